#!/usr/bin/python3
"""Straight lines through values, with numpy and scipy alone.

Line by numpy.linalg.lstsq; its covariances as C V C', C the matrix that takes the values to
the line and V the covariance of the values: s² of the scatter, their own u², or u·u' where
two were read with one instrument. Where the line meets a limit is looked for by bisection
(scipy.optimize.brentq) on the edge of its band, not by a formula. The bend is the F test of
a parabola (numpy.polyfit) against the line. Prints JSON; the Go test of checks/trend
compares with trend.json.
"""
import json

import numpy as np
from scipy import optimize, special, stats

LEVEL = special.erf(np.sqrt(2))

CASES = [  # t in years, y, u (None: not known), instrument of each, limit
    ("joint rising", [0, 2, 4, 6, 8], [20.1, 21.9, 24.2, 25.8, 28.1], [0.5, 0.5, 0.5, 0.6, 0.6], "AAAAA", 32),
    ("two instruments", [0, 1.9, 4.1, 6, 8.2, 9.9], [50.2, 49.1, 48.4, 46.9, 46.2, 45.1], [0.4, 0.4, 0.4, 0.7, 0.7, 0.7], "AAABBB", 40),
    ("not known", [0, 1, 2.5, 4, 5, 6.5], [3.0, 3.4, 4.1, 4.9, 5.2, 6.1], None, "ABCDEF", 9),
    ("three values", [0, 3, 7], [100, 104.1, 110.2], [0.6, 0.7, 0.6], "ABA", 118),
    ("bent", [0, 1, 2, 3, 4, 5, 6], [10.0, 10.1, 10.6, 11.3, 12.4, 13.7, 15.4], [0.1] * 7, "AAAAAAA", 20),
    ("scattered", [0, 1, 2, 3, 4, 5], [7.0, 9.5, 6.1, 9.9, 8.4, 10.2], [0.3] * 6, "ABABAB", 15),
    ("falling, three instruments", [0, 2, 4, 6, 8, 10, 12], [1.90, 1.81, 1.74, 1.62, 1.55, 1.47, 1.36], [0.03, 0.03, 0.02, 0.02, 0.04, 0.04, 0.04], "AABBCCA", 1.0),
]


def work(name, t, y, u, who, limit):
    t, y = np.array(t, float), np.array(y, float)
    n = len(t)
    s = np.ones(n) if u is None else np.array(u, float)
    A = np.vstack([np.ones(n), t]).T
    C = np.linalg.pinv(A / s[:, None]) / s  # takes y to (intercept, slope)
    fit = np.linalg.lstsq(A / s[:, None], y / s, rcond=None)[0]
    chi2 = float(np.sum(((y - A @ fit) / s) ** 2))
    ways = [(stats.t.ppf(0.5 + LEVEL / 2, n - 2), C @ np.diag(s ** 2) @ C.T * chi2 / (n - 2))]
    if u is not None:
        same = np.array([[float(a == b) for b in who] for a in who])
        ways += [(2.0, C @ np.diag(s ** 2) @ C.T), (2.0, C @ (same * np.outer(s, s)) @ C.T)]

    def band(x):
        at = np.array([1.0, x])
        return max(k * np.sqrt(at @ V @ at) for k, V in ways)

    def inside(x):
        return abs(fit[0] + fit[1] * x - limit) - band(x)

    when = (limit - fit[0]) / fit[1]
    out = {"name": name, "t": t.tolist(), "y": y.tolist(), "u": u, "who": who, "limit": limit,
           "slope": fit[1], "first": fit[0], "chi2": chi2,
           "slope_u": max(k * np.sqrt(V[1, 1]) for k, V in ways),
           "middle_u": band(t.mean()), "later_u": band(t[-1] + 5),
           "chance": None if u is None else stats.chi2.sf(chi2, n - 2), "when": when}
    open_end = any(fit[1] ** 2 <= k ** 2 * V[1, 1] for k, V in ways)
    if not open_end:
        far = 1e4
        out["from"] = optimize.brentq(inside, when - far, when, xtol=1e-10)
        out["to"] = optimize.brentq(inside, when, when + far, xtol=1e-10)
    two = np.polyfit(t, y, 2, w=1 / s)
    rest = float(np.sum(((y - np.polyval(two, t)) / s) ** 2))
    out["bow"], out["bow_f"] = chi2 - rest, (chi2 - rest) / (rest / (n - 3)) if n > 3 else None
    out["bow_level"] = float(stats.f.sf(out["bow_f"], 1, n - 3)) if n > 3 else None
    return out


print(json.dumps({"cases": [work(*c) for c in CASES],
                  "student": [stats.t.ppf(0.5 + LEVEL / 2, k) for k in range(1, 41)],
                  "chi": [[k, x, stats.chi2.sf(x, k)] for k in (1, 2, 3, 4, 7, 10, 25) for x in (0.1, 1, 5, 20)]}, indent=1))
