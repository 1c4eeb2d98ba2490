"""Fits the largest charge, a series resistance and one pair of the cell "lithium-ion 21700, 5 Ah" to its published discharge points at 5 A; those at 1 A are predicted.

python 3, numpy 2.4.6, scipy 1.17.1. Prints what stands in the test and in the README.
"""
import csv

import numpy as np
from scipy.optimize import least_squares

CELL = "lithium-ion 21700, 5 Ah"
ocv = sorted((float(r["soc"]), float(r["ocv_V"])) for r in csv.DictReader(open("open_circuit.csv")) if r["cell"] == CELL)
points = [(float(r["current_A"]), float(r["Ah_out"]), float(r["V"])) for r in csv.DictReader(open("points.csv")) if r["cell"] == CELL]
soc, volts = map(np.array, zip(*ocv))


def model(p, i, q):
    most, r0, r1, tau = p
    return np.interp(1 - q / most, soc, volts) - i * (r0 + r1 * (1 - np.exp(-q / i * 3600 / tau)))


fitted = [p for p in points if p[0] == 5.0]
found = least_squares(lambda p: [model(p, i, q) - v for i, q, v in fitted], [5.1, 0.025, 0.02, 60.0], x_scale=[1, 0.01, 0.01, 60])
print("most %.4f Ah, R0 %.5f ohm, R1 %.5f ohm, tau %.1f s" % tuple(found.x))
for current in (5.0, 1.0):
    errors = [1e3 * (model(found.x, i, q) - v) for i, q, v in points if i == current]
    print(current, "A:", " ".join("%.1f" % e for e in errors), "mV")
