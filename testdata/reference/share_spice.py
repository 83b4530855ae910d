#!/usr/bin/python3
"""Two transformers on two sections with the coupler closed, solved as a network by ngspice.

Prints share.json. Each transformer is a voltage behind its impedance, per phase; each section's load is an impedance, so that its
power factor at the bar is that of the impedance; the coupler is a millionth of an ohm. What the ammeters read, and with what power
factor against the bar, comes from ngspice.

usage: share_spice.py > share.json        needs ngspice; the figures are the same on every run
"""
import cmath
import json
import math

from spice import solve


def branch(name, a, b, z):
    """A resistance and a reactance at 50 Hz in series."""
    w = 2 * math.pi * 50
    return [f"r{name} {a} {name}m {z.real:.12g}", f"l{name} {name}m {b} {z.imag / w:.12g}"]


def case(name, units, loads):
    """units: kVA, z in %, load loss in kW, HV volts of the tap, for 11 kV / 400 V; loads: A wanted of each section, and power factor."""
    lines = []
    for n, (kva, z, loss, tap) in enumerate(units):
        base = 400 ** 2 / (kva * 1e3)
        r = loss / kva
        lines += [f"v{n} e{n} 0 ac {400 / math.sqrt(3) * 11000 / tap:.12g} 0"]
        lines += branch(f"t{n}", f"e{n}", f"b{n}", complex(r, math.sqrt((z / 100) ** 2 - r ** 2)) * base)
    lines += ["rc b0 b1 1e-6"]
    for n, (amps, pf) in enumerate(loads):
        lines += branch(f"s{n}", f"b{n}", "0", cmath.rect(400 / math.sqrt(3) / amps, math.acos(pf)))
    bar, i1, i2, c, la, lb = solve(lines, ["v(b0)", "i(lt0)", "i(lt1)", "v(b0)-v(b1)", "i(ls0)", "i(ls1)"])
    c *= 1e6  # out of section A
    factor = lambda z: round(abs(math.cos(cmath.phase(z) - cmath.phase(bar))), 9)
    size = lambda z: float(f"{abs(z):.9g}")
    into_b = (c * bar.conjugate()).real > 0
    return dict(name=name, units=units, direction="A to B" if into_b else "B to A", incomers=[size(i1), size(i2)], coupler=size(c), sections=[size(la), size(lb)],
                pf=factor(i1 + i2), incomer_pf=[factor(i1), factor(i2)], coupler_pf=factor(c))


def main():
    like = [(800, 6, 8.4, 11000), (800, 6, 8.4, 11000)]
    apart = lambda volts: [(800, 6, 8.4, 11000), (800, 6, 8.4, volts)]
    wide = [(800, 6, 8.4, 11000), (1600, 12, 16.8, 11000)]
    cases = [
        case("like units, like sections", like, [(400, 0.85), (400, 0.85)]),
        case("like units, lightly and unlike loaded", like, [(520, 0.9), (330, 0.95)]),
        case("like units, power factors 1 and 0.85", like, [(620, 1), (420, 0.85)]),
        case("like units, section A heavy at 0.8", like, [(900, 0.8), (300, 0.99)]),
        case("taps 2.5 % apart, light", apart(11275), [(450, 0.85), (420, 0.9)]),
        case("taps 2.5 % apart the other way", apart(10725), [(300, 0.85), (500, 0.9)]),
        case("taps 5 % apart, very light", apart(11550), [(150, 0.8), (200, 0.95)]),
        case("unlike impedances and losses", [(800, 6, 8.4, 11000), (1000, 5, 13, 11000)], [(500, 0.9), (600, 0.85)]),
        case("unlike impedances, taps 1.25 % apart", [(800, 4.8, 8.2, 11000), (800, 6.2, 5, 11137.5)], [(500, 0.95), (300, 0.8)]),
        case("a section above its rating behind two that share evenly, power factors 1 and 0.8", wide, [(1330, 0.8), (1450, 1)]),
        case("a section above its rating, power factors 1 and 0.85", wide, [(1330, 1), (1300, 0.85)]),
        case("a section above its rating, taps 1.25 % apart", [(800, 6, 8.4, 11000), (1600, 12, 16.8, 11137.5)], [(1310, 0.98), (1350, 0.8)]),
    ]
    out = dict(source="two voltages behind their impedances, two load impedances and a closed coupler solved by ngspice; made by share_spice.py. Incomers and sections in the order A, B; currents in A", cases=None)
    head = json.dumps(out, ensure_ascii=False).replace("null}", "[")
    print(head + "\n " + ",\n ".join(json.dumps(c) for c in cases) + "\n]}")


main()
