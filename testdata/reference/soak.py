#!/usr/bin/python3
"""Fits heating curves with scipy.optimize.curve_fit, to compare FitHeating with.

Writes the document kept as soak.json to stdout. Needs Debian python3-scipy.
The readings are the exact curves of testdata/cases/power-soak.json and noisy
ones made here with a fixed seed, to one decimal or to whole degrees.
"""
import json
import os
import sys

import numpy as np
from scipy.optimize import curve_fit

HERE = os.path.dirname(os.path.abspath(__file__))


def curve(t, final, start, tau):
    return final - (final - start) * np.exp(-t / tau)


def noisy():
    rnd = np.random.RandomState(26)
    rows = [
        # start, final, tau, minutes, scatter in K, decimals
        (22, 95, 60, np.arange(0, 241, 15), 0.3, 1),
        (18, 71, 45, np.arange(0, 181, 20), 1.0, 0),
        (25, 118, 110, np.array([0, 7, 22, 41, 63, 95, 131, 170, 214, 260]), 0.5, 1),
        (64, 38, 35, np.arange(0, 121, 15), 0.2, 1),
        (20, 60, 12, np.array([0, 5, 10, 20, 40, 60, 90]), 0.4, 1),
        (30, 31.5, 50, np.arange(0, 201, 20), 0.05, 2),
        (20, 140, 300, np.arange(0, 301, 30), 0.2, 1),
        (21, 88, 70, np.array([0, 60, 120, 240]), 0.1, 1),
    ]
    for start, final, tau, t, scatter, decimals in rows:
        y = curve(t, final, start, tau) + rnd.normal(0, scatter, len(t))
        yield t.tolist(), [round(float(x), decimals) for x in y]


def fit(t, y):
    t, y = np.array(t, float), np.array(y, float)
    span = t[-1]
    guess = (y[-1], y[0], span / 2)
    p, cov = curve_fit(curve, t, y, guess, ftol=1e-15, xtol=1e-15, gtol=1e-15, maxfev=20000)
    rest = y - curve(t, *p)
    error = np.sqrt(np.diag(cov))
    return dict(final=p[0], start=p[1], tau=p[2], scatter=float(np.sqrt(rest @ rest / (len(t) - 3))),
                final_error=error[0], start_error=error[1], tau_error=error[2])


def main():
    with open(os.path.join(HERE, "..", "cases", "power-soak.json"), encoding="utf-8") as f:
        readings = [(c["minutes"], c["temp_C"]) for c in json.load(f)["soak"]]
    readings += list(noisy())
    out = [dict(minutes=t, temp_C=y, fit=fit(t, y)) for t, y in readings]
    source = "Made by soak.py: least squares with scipy.optimize.curve_fit, standard errors from its covariance."
    body = ",\n".join("  " + json.dumps(c) for c in out)
    sys.stdout.write('{\n "source": ' + json.dumps(source) + ',\n "cases": [\n' + body + "\n ]\n}\n")


main()
