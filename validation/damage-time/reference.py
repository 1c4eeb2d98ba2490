"""Time until a wire passes 200 degC after a current sets in: the balance of heat of its strands integrated by scipy.

One wire alone: strands of radius a and heat capacity C, jacket to radius b of conductivity k that stores nothing, emittance e, in vacuum or in a gas with a
given film. I^2 r20 (1 + alpha (T - 20)) dt = C dT + q(T) dt; q passes the jacket and leaves its surface by radiation and film.

    python3 reference.py > expected.csv
"""

import math
import sys

import scipy
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

SIGMA = 5.670374419e-8
A, B, K, E = 0.405e-3, 0.6e-3, 0.24, 0.85
R20, ALPHA = 0.0323, 0.00393
C = 0.5176e-6 * 8960.0 * 385.0
HOME, LIMIT = 298.15, 473.15


def leaves(t, film):
    jacket = 2 * math.pi * K / math.log(B / A)
    out = lambda s: E * SIGMA * 2 * math.pi * B * (s**4 - HOME**4) + film * 2 * math.pi * B * (s - HOME)
    skin = brentq(lambda s: jacket * (t - s) - out(s), HOME - 1.0, t + 1.0, xtol=1e-12)
    return out(skin)


def passes(current, film):
    def rate(_, y):
        t = y[0]
        return [(current**2 * R20 * (1 + ALPHA * (t - 293.15)) - leaves(t, film)) / C]

    def there(_, y):
        return y[0] - LIMIT

    there.terminal = True
    found = solve_ivp(rate, (0, 1e5), [HOME], method="LSODA", rtol=1e-10, atol=1e-8, events=there)
    return found.t_events[0][0] if len(found.t_events[0]) else math.inf


print(f"# python {sys.version.split()[0]}, scipy {scipy.__version__}", file=sys.stderr)
print("surroundings,film_w_per_m2_k,current_a,passes_s")
for name, film, currents in (("vacuum", 0.0, (12.0, 20.0, 60.0)), ("air", 15.0, (19.0, 25.0, 60.0))):
    for current in currents:
        print(f"{name},{film},{current},{passes(current, film):.6g}")
