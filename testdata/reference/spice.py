"""Lines of a netlist, solved by ngspice: for the scripts beside it."""
import os
import subprocess
import tempfile


def solve(lines, reads):
    """What each expression of a netlist is at 50 Hz, as a complex number; ends the program when ngspice gives fewer values."""
    text = ["* solved at 50 Hz"] + lines + [".control", "set numdgt=12", "ac lin 1 50 50"]
    for r in reads:
        text += [f"print real({r})", f"print imag({r})"]
    text += ["quit", ".endc", ".end"]
    with tempfile.NamedTemporaryFile("w", suffix=".cir", delete=False) as deck:
        deck.write("\n".join(text) + "\n")
    try:
        out = subprocess.run(["ngspice", "-b", deck.name], capture_output=True, text=True).stdout
    finally:
        os.unlink(deck.name)
    values = [float(line.split("=")[1]) for line in out.splitlines() if line.startswith(("real(", "imag(")) and "=" in line]
    if len(values) != 2 * len(reads):
        raise SystemExit(f"{len(values)} of {2 * len(reads)} values from ngspice:\n{out}")
    return [complex(values[2 * i], values[2 * i + 1]) for i in range(len(reads))]
