#!/usr/bin/python3
"""Chance that the true value lies beyond its limits, by scipy (Debian python3-scipy).

JCGM 106:2012 7: with a normal error of standard uncertainty u = U/2 about the
value read, the chance is what the normal distribution leaves outside the limits.
Prints JSON; the Go test beside package checks compares with conformity.json.
"""
import json
from scipy.stats import norm

CASES = [
    (10, 0.8, 9, 11), (10.5, 0.8, 9, 11), (13.6, 3.6, 12.5, 16.3), (252.0, 1.804, 216.2, 253.0),
    (250.0, 1.7898, 216.2, 253.0), (44.0, 2.0, 36.0, 44.0), (0.654, 0.044, None, 0.5), (0.46, 0.044, None, 0.5),
    (3695, 226, 1000, None), (980, 60, 1000, None), (-0.02, 0.53, -1.5, 1.5), (1.6, 0.53, -1.5, 1.5), (5, 1e-3, None, 4), (5, 1e-3, None, 6),
]

out = []
for x, U, low, high in CASES:
    u, p = U / 2, 0.0
    if high is not None:
        p += norm.sf((high - x) / u)
    if low is not None:
        p += norm.cdf((low - x) / u)
    out.append(dict(value=x, U=U, low=low, high=high, chance_out=float(min(p, 1))))
print(json.dumps(dict(source="scipy.stats.norm, JCGM 106:2012 7", cases=out), indent=1))
