"""Expected values of single-wire heat from general Python libraries: ht, fluids, scipy. Writes expected.csv beside itself.

python3 -m venv v && v/bin/pip install -r requirements.txt && v/bin/python reference.py
"""

import csv
import math
import pathlib

from fluids.atmosphere import ATMOSPHERE_1976
from ht.conv_external import Nu_cylinder_Churchill_Bernstein
from ht.conv_free_immersed import Nu_horizontal_cylinder_Churchill_Chu, Nu_horizontal_cylinder_Morgan
from scipy.integrate import solve_bvp
from scipy.optimize import brentq

SIGMA = 5.670374419e-8
rows = []


def put(kind, given, value):
    rows.append([kind, *given, *[""] * (6 - len(given)), f"{value:.8g}"])


# Air, and the correlations.
for t in (200, 250, 300, 350, 400, 450, 500):
    put("conductivity", [t], ATMOSPHERE_1976.thermal_conductivity(t))
    put("viscosity", [t], ATMOSPHERE_1976.viscosity(t))
    put("density", [t, 46601], ATMOSPHERE_1976.density(t, 46601))
for feet in (20000, 60000, 100000):
    put("altitude", [feet], ATMOSPHERE_1976(feet * 0.3048).P)
for pr in (0.68, 0.7, 0.72):
    for ra in (1e-4, 1e-2, 1, 10, 100, 1e3, 1e5, 1e8):
        put("churchill_chu", [ra, pr], Nu_horizontal_cylinder_Churchill_Chu(pr, ra / pr))
        put("morgan", [ra, pr], Nu_horizontal_cylinder_Morgan(pr, ra / pr))
    for re in (1, 10, 100, 1e3, 1e5):
        put("churchill_bernstein", [re, pr], Nu_cylinder_Churchill_Bernstein(re, pr))

# A 20 AWG wire in a duct or room: balance by scipy's root finder. Current (A), gas and walls (degC), pressure (Pa), gravity (g), speed (m/s).
D_C, D_O, K, EPS, R20, A20 = 0.038 * 0.0254, 0.058 * 0.0254, 0.25, 0.9, 9.88 / 304.8, 0.00393


def steady(current, ambient_c, pressure, gravity, speed):
    ta = ambient_c + 273.15

    def nusselt(ts):
        tm = (ts + ta) / 2
        mu, k = ATMOSPHERE_1976.viscosity(tm), ATMOSPHERE_1976.thermal_conductivity(tm)
        cp, rho = 3.5 * 8314.32 / 28.9644, ATMOSPHERE_1976.density(tm, pressure)
        pr, nu = mu * cp / k, mu / rho
        gr = gravity * 9.80665 * abs(ts - ta) / tm * D_O**3 / nu**2
        free = Nu_horizontal_cylinder_Churchill_Chu(pr, gr) if gravity else 0
        flow = Nu_cylinder_Churchill_Bernstein(speed * D_O / nu, pr) if speed else 0
        return max(free, flow) * k / D_O

    def out(ts):
        return math.pi * D_O * (EPS * SIGMA * (ts**4 - ta**4) + (nusselt(ts) * (ts - ta) if pressure else 0))

    def conductor(ts):
        return ts + out(ts) * math.log(D_O / D_C) / (2 * math.pi * K)

    ts = brentq(lambda t: out(t) - current**2 * R20 * (1 + A20 * (conductor(t) - 293.15)), ta, 1200, xtol=1e-9)
    return conductor(ts) - 273.15


for given in [
    (5, 20, 101325, 1, 0), (15, 20, 101325, 1, 0), (21.5, 60, 101325, 1, 0), (15, 70, 7231, 1, 0), (15, 70, 46601, 0.3, 0),
    (15, 20, 101325, 0, 2), (25, 20, 70000, 0, 10), (15, 20, 101325, 1, 0.5), (8, 20, 0, 0, 0), (3, -100, 0, 0, 0),
]:
    put("conductor_c", given, steady(*given))

# A wire with held ends in vacuum, radiation and resistance in full (scipy solve_bvp): current (A), walls (degC), ends (degC), length (m); hottest (degC).
D_O = 0.050 * 0.0254
EPS, R20 = 0.85, 9.19 / 304.8


def ends(current, walls_c, end_c, length):
    tw, area = walls_c + 273.15, math.pi / 4 * D_C**2

    def rhs(x, y):
        loss = math.pi * D_O * EPS * SIGMA * (y[0] ** 4 - tw**4)
        return [y[1], (loss - current**2 * R20 * (1 + A20 * (y[0] - 293.15))) / (398 * area)]

    import numpy as np

    te = end_c + 273.15
    x = np.linspace(0, length, 400)
    s = solve_bvp(rhs, lambda a, b: [a[0] - te, b[0] - te], x, [np.full_like(x, te), np.zeros_like(x)], tol=1e-9, max_nodes=200000)
    assert s.success
    return s.sol(length / 2)[0] - 273.15


for given in [(8, 40, 40, 0.1), (8, 40, 40, 0.2), (8, 40, 40, 0.4), (8, 40, 40, 1.0), (8, 40, 140, 0.2)]:
    put("middle_c", given, ends(*given))

with open(pathlib.Path(__file__).with_name("expected.csv"), "w", newline="") as file:
    out = csv.writer(file, lineterminator="\n")
    out.writerow(["kind", "a", "b", "c", "d", "e", "f", "expected"])
    out.writerows(rows)
