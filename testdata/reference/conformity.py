#!/usr/bin/python3
"""Chance that the true value lies beyond its limits, by scipy (Debian python3-scipy).

JCGM 106:2012 7: the chance is what the distribution of the error about the value
read leaves outside the limits. One rectangle of half-width a is scipy's uniform. A
sum of independent rectangles is taken as the symmetric beta distribution of the same
standard deviation between minus and plus the sum of the half-widths; 'true' is the
chance by convolution of the rectangles themselves (Irwin-Hall, by inclusion and
exclusion), from which the model may stray a little.
Prints JSON; the Go test beside package checks compares with conformity.json.
"""
import itertools
import json
import math
from scipy.stats import beta, uniform

CASES = [  # value, half-widths of independent rectangles, low, high
    (10, [0.8], 9, 11), (10.5, [0.8], 9, 11), (252.0, [1.56], 216.2, 253.0), (251.5, [1.5575], 216.2, 253.0), (250.0, [1.55], 216.2, 253.0),
    (252.999, [1.565], 216.2, 253.0), (44.0, [1.76], 36.0, 44.0), (5, [1e-3], None, 4), (5, [1e-3], None, 6),
    (0.654, [0.03, 0.03], None, 0.5), (0.46, [0.03, 0.03], None, 0.5), (13.6, [2, 1.5, 1], 12.5, 16.3), (3695, [185, 128], 1000, None),
    (1005, [50, 35], 1000, None), (980, [50, 35], 1000, None), (-0.02, [0.3, 0.3, 0.1], -1.5, 1.5), (1.3, [0.3, 0.3, 0.1], -1.5, 1.5),
    (1.6, [0.2] * 7, -1.5, 1.5), (9.2, [1] * 4 + [0.2] * 3, None, 10),
]


def convolved(d, halves):
    """Chance that the sum of the errors is greater than d."""
    n, total = len(halves), 0.0
    for signs in itertools.product((1, -1), repeat=n):
        x = sum(s * a for s, a in zip(signs, halves)) - d
        if x > 0:
            total += math.prod(signs) * x ** n
    return min(max(total / (math.factorial(n) * 2 ** n * math.prod(halves)), 0.0), 1.0)


out = []
for x, halves, low, high in CASES:
    most, u = math.fsum(halves), math.sqrt(sum(a * a for a in halves) / 3)
    if len(halves) == 1:
        error = uniform(-most, 2 * most)
    else:
        p = ((most / u) ** 2 - 1) / 2
        error = beta(p, p, -most, 2 * most)
    chance = true = 0.0
    if high is not None:
        chance, true = chance + error.sf(high - x), true + convolved(high - x, halves)
    if low is not None:
        chance, true = chance + error.sf(x - low), true + convolved(x - low, halves)
    out.append(dict(value=x, halves=halves, low=low, high=high, chance_out=float(min(chance, 1)), true=float(min(true, 1))))
print(json.dumps(dict(source="scipy.stats.uniform and beta, JCGM 106:2012 7", cases=out), indent=1))
