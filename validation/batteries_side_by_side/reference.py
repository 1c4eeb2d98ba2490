"""Batteries side by side under a constant power: an ordinary differential equation for scipy. Writes expected.csv.

Each battery: 100 Ah, a curve of two levels, 25 mohm, a pair of 1.5 times that with 30 s, a lead. Unknown between them is the voltage of the bus, a root of one
equation. A battery ends the run when its depth comes to 1. python 3, numpy 2.4.6, scipy 1.17.1.
"""
import csv

import numpy as np
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

CHARGE = 100.0 * 3600.0
DEPTHS = [0.0, 0.3, 0.4, 0.9, 1.0]
VOLTS = [33.0, 32.0, 30.0, 29.0, 26.0]
R0, R1, TAU = 0.025, 0.0375, 30.0
CASES = {
    "two": ([0.0, 0.25], [0.010, 0.016], 700.0),
    "three": ([0.0, 0.2, 0.45], [0.010, 0.016, 0.012], 1000.0),
}


def currents(depth, late, leads, power):
    emf = np.interp(depth, DEPTHS, VOLTS) - R1 * late
    ohms = R0 + np.array(leads)
    volts = brentq(lambda v: np.sum((emf - v) / ohms) - power / v, 20.0, 40.0, xtol=1e-13, rtol=1e-15)
    return (emf - volts) / ohms


def run(starts, leads, power):
    n = len(starts)

    def slope(_, y):
        depth, late = y[:n], y[n:]
        i = currents(depth, late, leads, power)
        return np.concatenate([i / CHARGE, (i - late) / TAU])

    def empty(_, y):
        return np.max(y[:n]) - 1.0

    empty.terminal = True
    y0 = np.concatenate([starts, np.zeros(n)])
    found = solve_ivp(slope, (0.0, 1e6), y0, method="LSODA", rtol=1e-10, atol=1e-12, events=empty, max_step=60.0)
    early = solve_ivp(slope, (0.0, 3600.0), y0, method="LSODA", rtol=1e-10, atol=1e-12, max_step=60.0)
    return found.t[-1], found.y[:n, -1], early.y[:n, -1]


with open("expected.csv", "w") as out:
    rows = csv.writer(out, lineterminator="\n")
    rows.writerow(["case", "ends_s", "battery", "start_left", "lead_ohm", "power_w", "left_after_1h", "left_at_end"])
    for name, (starts, leads, power) in CASES.items():
        ends, depth, early = run(starts, leads, power)
        for k in range(len(starts)):
            rows.writerow([name, "%.4f" % ends, k + 1, 1 - starts[k], leads[k], power, "%.9f" % (1 - early[k]), "%.9f" % (1 - depth[k])])
