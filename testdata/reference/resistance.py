"""Reference values of resistance checks, worked out with numpy alone.

The inputs are drawn with a fixed seed and rounded as a person would read them;
the outputs follow textbook and standard formulas, written here a second time and
in another way than the program does. Prints resistance.json to stdout:

    /usr/bin/python3 resistance.py > resistance.json
"""
import json

import numpy as np

rng = np.random.default_rng(20260302)


def rounded(values, digits):
    """values to a number of significant digits, as typed."""
    return [float(f"{v:.{digits}g}") for v in np.atleast_1d(values)]


def winding():
    """Linear in temperature: fit the straight line of IEC 60076-1 through its zero
    at -T0 and the reading, and read it off at the reference."""
    out = []
    for material, t0 in (("copper", 235.0), ("aluminium", 225.0)):
        for _ in range(12):
            ohms = rounded(rng.uniform(0.05, 40) * (1 + rng.normal(0, 0.01, 3)), 5)
            temp, ref = rounded([rng.uniform(-5, 60)], 3)[0], float(rng.choice([20, 75, 85, 115, 145]))
            line = [np.polyfit([-t0, temp], [0.0, r], 1) for r in ohms]
            mean = np.mean(ohms)
            out.append({
                "material": material, "temp": temp, "reference": ref, "ohms": ohms,
                "referred": [float(np.polyval(p, ref)) for p in line],
                "spread": float(100 * np.ptp(ohms) / mean),
                "greatest_deviation": float(100 * np.linalg.norm(np.array(ohms) - mean, np.inf) / mean),
            })
    return out


def insulation():
    """Halving per 10 K is a straight line in log2 of the resistance."""
    out = []
    for _ in range(20):
        r = rounded(rng.uniform(5, 9000) * np.cumprod([1, 1.2, 1.3, 1.9]) * np.exp(rng.normal(0, 0.2, 4)), 4)
        temp, ref = rounded([rng.uniform(-10, 80)], 3)[0], float(rng.choice([20, 40]))
        out.append({
            "temp": temp, "reference": ref, "mega_ohms": r,
            "corrected": float(np.exp2(np.log2(r[2]) + (temp - ref) / 10)),
            "polarisation": float(np.divide(r[3], r[2])),
            "absorption_30": float(np.divide(r[2], r[1])),
            "absorption_15": float(np.divide(r[2], r[0])),
        })
    return out


def contacts():
    """Each joint over the lowest, by sorting."""
    out = []
    for _ in range(10):
        r = rounded(rng.uniform(5, 80) * np.exp(rng.normal(0, 0.25, rng.integers(2, 9))), 3)
        times = np.array(r) / np.sort(r)[0]
        out.append({"micro_ohms": r, "times": [float(x) for x in times], "above": [bool(x > 1.5) for x in times]})
    return out


def turns():
    """Turns of one limb as lengths of phasors: a delta's winding lies between two
    conductors of a balanced system, a star's between a conductor and its middle."""
    star = lambda u: u / np.sqrt(3) * np.exp(2j * np.pi * np.arange(3) / 3)
    length = {
        "D": lambda u: np.abs(star(u)[0] - star(u)[1]),
        "Y": lambda u: np.abs(star(u)[0] - star(u).mean()),
    }
    out = []
    for group in ("Dyn11", "Dyn1", "Dy5", "Yd1", "YNd11", "Dd0", "Dd6", "Yyn0", "Yy6"):
        for hv, lv in ((11000.0, 433.0), (33000.0, 11000.0), (20000.0, 420.0)):
            tap = float(rounded([hv * rng.uniform(0.9, 1.1)], 5)[0])
            letters = [c for c in group.upper() if c in "DY"]
            n = length[letters[0]](tap) / length[letters[1]](lv)
            read = rounded(n * (1 + rng.normal(0, 0.003)), 6)[0]
            out.append({"group": group, "hv": hv, "tap": tap, "lv": lv, "nominal": float(n), "read": read,
                        "deviation": float(100 * np.divide(read, n) - 100)})
    return out


print(json.dumps({
    "source": "Exact values of textbook formulas by numpy for inputs drawn at random; no document is their source.",
    "winding": winding(), "insulation": insulation(), "contacts": contacts(), "turns": turns(),
}, indent=1))
