#!/usr/bin/python3
"""Nine voltmeters across an open device, solved as a network by ngspice.

Prints cross.json. Two three-phase sources stand on either side of the device. Their neutrals are joined by a resistance: a
millionth of an ohm where they are tied, 100 kΩ with a source of displacement in it where they are not. Nine voltmeters of 10 MΩ join each
conductor of A to each of B. What the meters read, and the phasors of all six conductors from the neutral of A, come from ngspice.

usage: cross_spice.py > cross.json        needs ngspice; the figures are the same on every run
"""
import json
import random

from spice import solve

METER_OHM = 10e6
DRAW = random.Random(20)


def case(name, fault, perm, turn, tied=True, offset=0, dead=None, volts=240.0, ratio=1.0, spread=0.0):
    """One pair of systems. perm[j] is the conductor of A that each of B is; spread how unlike the phases of a side are, as a share."""
    lines = []
    for i in range(3):
        u, d = volts * (1 + DRAW.uniform(-spread, spread)), DRAW.uniform(-spread, spread) * 57
        lines.append(f"va{i} a{i} 0 ac {u:.10g} {-120 * i + d:.10g}")
    for j in range(3):
        u, d = volts * ratio * (1 + DRAW.uniform(-spread, spread)), DRAW.uniform(-spread, spread) * 57
        if j == dead:
            lines.append(f"rb{j} b{j} nb 1e-3")
        else:
            lines.append(f"vb{j} b{j} nb ac {u:.10g} {-120 * perm[j] + turn + d:.10g}")
    if tied:
        lines.append("rtie nb 0 1e-6")
    else:
        lines += [f"voff x 0 ac {offset} {DRAW.uniform(-180, 180):.10g}", "rtie nb x 100k"]
    for i in range(3):
        for j in range(3):
            lines.append(f"rm{i}{j} a{i} b{j} {METER_OHM:g}")
    reads = [f"v(a{i})" for i in range(3)] + [f"v(b{j})" for j in range(3)]
    reads += [f"v(a{i})-v(a{(i + 1) % 3})" for i in range(3)]
    reads += [f"v(a{i})-v(b{j})" for i in range(3) for j in range(3)]
    got = solve(lines, reads)
    pair = lambda z: [float(f"{z.real:.9g}"), float(f"{z.imag:.9g}")]
    size = lambda z: float(f"{abs(z):.9g}")
    return dict(name=name, fault=fault, perm=perm, turn_deg=turn, dead=dead, a=[pair(z) for z in got[:3]], b=[pair(z) for z in got[3:6]],
                a_ln=[size(z) for z in got[:3]], a_ll=[size(z) for z in got[6:9]], cross=[[size(got[9 + 3 * i + j]) for j in range(3)] for i in range(3)])


def main():
    same = [0, 1, 2]
    cases = [
        case("in phase", "in phase", same, 0.4, ratio=1.01),
        case("in phase, uneven sides", "in phase", same, -1.1, ratio=0.99, spread=0.008),
        case("L1 and L2 crossed", "crossed", [1, 0, 2], 0.3, spread=0.004),
        case("L2 and L3 crossed", "crossed", [0, 2, 1], -0.7),
        case("L3 and L1 crossed", "crossed", [2, 1, 0], 1.5, spread=0.004),
        case("rolled one place", "rolled", [1, 2, 0], 0.2, ratio=1.02),
        case("rolled two places", "rolled", [2, 0, 1], -0.9, spread=0.006),
        case("lagging by one clock hour", "displaced", same, -30),
        case("leading by one clock hour", "displaced", same, 29.2, spread=0.004),
        case("leading by 45 degrees", "displaced", same, 45),
        case("rolled and leading by one clock hour", "displaced", [1, 2, 0], 30.5),
        case("neutrals not tied, 40 V", "not tied", same, 0.6, tied=False, offset=40),
        case("neutrals not tied, 90 V", "not tied", same, -0.4, tied=False, offset=90, spread=0.005),
        case("crossed and not tied", "crossed", [0, 2, 1], 0.4, tied=False, offset=70),
        case("L1 of B dead", "dead", same, 0.5, dead=0),
        case("L3 of B dead", "dead", same, -0.8, dead=2, spread=0.004),
        case("690 V", "in phase", same, 0.8, volts=398.4, ratio=0.985, spread=0.003),
        case("208 V", "rolled", [2, 0, 1], 0.8, volts=120.1, ratio=1.015, spread=0.003),
    ]
    out = dict(source="two sources, neutrals tied or not, and nine voltmeters of 10 MΩ solved by ngspice; made by cross_spice.py. a and b are phasors from the neutral of A, real and imaginary", cases=None)
    head = json.dumps(out, ensure_ascii=False).replace("null}", "[")
    print(head + "\n " + ",\n ".join(json.dumps(c) for c in cases) + "\n]}")


main()
