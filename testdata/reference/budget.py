#!/usr/bin/python3
"""Standard uncertainties of values by Monte Carlo (JCGM 101:2008), with numpy alone.

A reading errs by the share of its instrument, the same for all its readings in one
range, and by its own digits: each error is drawn from its rectangle, the value is
worked out of the readings that err, and its standard deviation is u. The program adds
the two errors of a group as the maker does, on the safe side of drawing them by
themselves, by a factor of √2 at the most.
Prints JSON; the Go test beside package checks compares with budget.json.
"""
import json

import numpy as np

DRAWS = 400_000
rng = np.random.default_rng(20261126)


def unbalance(a, b, c):
    """Negative over positive sequence of three line-to-line volts, %: the triangle is
    laid out and its corners turned."""
    x = (a * a + c * c - b * b) / (2 * a)
    y = np.sqrt(c * c - x * x)
    corners = [np.zeros_like(a) + 0j, a + 0j, x + 1j * y]
    sides = [corners[1] - corners[0], corners[2] - corners[1], corners[0] - corners[2]]
    turn = np.exp(2j * np.pi / 3)
    one = abs(sides[0] + turn * sides[1] + turn ** 2 * sides[2])
    two = abs(sides[0] + turn ** 2 * sides[1] + turn * sides[2])
    return 100 * np.minimum(one, two) / np.maximum(one, two)


VALUES = {
    "difference": lambda x: x[0] - x[1],
    "sum": lambda x: x[0] + x[1] + x[2],
    "quotient": lambda x: x[0] / x[1],
    "square": lambda x: x[0] ** 2,
    "unbalance": lambda x: unbalance(x[0], x[1], x[2]),
}

CASES = [  # value, readings, instrument of each, share %, digits
    ("difference", [401.0, 400.0], "aa", 0.6, 0.1), ("difference", [401.0, 400.0], "ab", 0.6, 0.1), ("difference", [401.0, 300.0], "aa", 0.6, 0.0),
    ("sum", [230.1, 231.4, 229.8], "aaa", 0.5, 0.0), ("sum", [230.1, 231.4, 229.8], "aaa", 0.0, 0.3), ("sum", [230.1, 231.4, 229.8], "abc", 0.5, 0.3),
    ("quotient", [415.0, 240.0], "ab", 0.8, 0.0), ("quotient", [415.0, 240.0], "aa", 0.8, 0.2), ("square", [230.0], "a", 1.0, 0.5),
    ("unbalance", [432.6, 427.9, 429.5], "aaa", 0.3, 0.2), ("unbalance", [432.6, 427.9, 429.5], "aaa", 0.0, 0.2), ("unbalance", [432.6, 427.9, 429.5], "abc", 0.03, 0.0),
]

out = []
for name, x, meters, share, digits in CASES:
    common = {m: rng.uniform(-1, 1, DRAWS) for m in sorted(set(meters))}
    erring = [v * (1 + share / 100 * common[m]) + digits * rng.uniform(-1, 1, DRAWS) for v, m in zip(x, meters)]
    out.append(dict(value=name, readings=x, meters=meters, share=share, digits=digits,
                    at=float(VALUES[name]([np.array([v]) for v in x])[0]), u=float(np.std(VALUES[name](erring)))))
print(json.dumps(dict(source="numpy, JCGM 101:2008, %d draws" % DRAWS, cases=out), indent=1))
