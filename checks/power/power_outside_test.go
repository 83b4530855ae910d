package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"handback/checks/power"
	"handback/testdata/outside"
)

// outsideTolerance is the relative agreement asked with an outside tool.
const outsideTolerance = 1e-5

// deck is a circuit for ngspice at 50 Hz: what to put in it and which magnitudes to read.
type deck struct {
	lines []string
	reads []string
}

func (d *deck) add(format string, args ...any) {
	d.lines = append(d.lines, fmt.Sprintf(format, args...))
}

// branch puts an impedance between two nodes.
func (d *deck) branch(name, from, to string, z complex128) {
	d.add("r%s %s m%s %.15g", name, from, name, real(z))
	d.add("l%s m%s %s %.15g", name, name, to, imag(z)/(2*math.Pi*50))
}

// run solves the deck and returns the magnitudes in order.
func (d *deck) run(t *testing.T, ngspice string) []float64 {
	t.Helper()
	text := "* network\n" + strings.Join(d.lines, "\n") + "\n.control\nac lin 1 50 50\nset numdgt=12\n"
	for _, r := range d.reads {
		text += "print mag(" + r + ")\n"
	}
	text += "quit\n.endc\n.end\n"
	file := filepath.Join(t.TempDir(), "network.cir")
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(ngspice, "-b", file).CombinedOutput()
	var values []float64
	for line := range strings.Lines(string(out)) {
		if _, number, ok := strings.Cut(line, "="); ok && strings.HasPrefix(line, "mag(") {
			v, err := strconv.ParseFloat(strings.TrimSpace(number), 64)
			if err != nil {
				t.Fatalf("%q: %v", line, err)
			}
			values = append(values, v)
		}
	}
	if len(values) == 0 || len(values) != len(d.reads) {
		t.Fatalf("%d of %d values from ngspice (%v):\n%s\n%s", len(values), len(d.reads), err, text, out)
	}
	return values
}

func TestOutside_ngspiceParallel(t *testing.T) {
	ngspice := outside.Tool(t, "ngspice")
	for i, c := range loadCases(t).Parallel {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			_, sources := c.sources(t)
			load := c.load()
			var d deck
			d.add("iload bus 0 ac %.15g %.15g", cmplx.Abs(load), power.Degrees(load))
			for k, s := range sources {
				d.add("v%d s%d 0 ac %.15g %.15g", k, k, cmplx.Abs(s.E), power.Degrees(s.E))
				d.branch(fmt.Sprint(k), fmt.Sprint("s", k), "bus", s.Z)
				d.reads = append(d.reads, fmt.Sprintf("i(v%d)", k))
			}
			d.reads = append(d.reads, "v(bus)")
			got := d.run(t, ngspice)
			bus, currents, err := power.Solve(sources, load)
			if err != nil {
				t.Fatal(err)
			}
			for k, z := range append(currents, bus) {
				near(t, d.reads[k], cmplx.Abs(z), got[k], outsideTolerance)
			}
		})
	}
}

// The short circuit as a network: supply and transformers in parallel, driven by c·Un/√3 at the fault. The supply stands on a side
// of its own, and every transformer has an ideal one of its ratio before it: those of one low voltage, and each of another.
func TestOutside_ngspiceFault(t *testing.T) {
	ngspice := outside.Tool(t, "ngspice")
	for i, c := range loadCases(t).Parallel {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			units, _ := c.sources(t)
			for _, apart := range []float64{0, 0.03} {
				fc := power.FaultCase{Supply: power.Supply{FaultVA: 250e6, C: 1.1, RX: power.SupplyRX}, NominalLV: 400, C: 1.05}
				var d deck
				d.add("v0 fault 0 ac %.15g", 1.05*400/math.Sqrt(3))
				d.branch("q", "hv", "0", cmplx.Rect(1.1*11e3*11e3/250e6, math.Atan2(1, 0.1)))
				for k, u := range units {
					lv := c.Uref * (1 + apart*float64(k))
					fc.Units = append(fc.Units, power.FaultUnit{Transformer: u, RatedLV: lv})
					d.add("et%d w%d 0 hv 0 %.15g", k, k, lv/11e3)
					d.add("vt%d w%d x%d 0", k, k, k)
					d.add("ft%d hv 0 vt%d %.15g", k, k, lv/11e3)
					d.branch(fmt.Sprint("t", k), fmt.Sprint("x", k), "fault", must[complex128](t)(u.Impedance(lv)))
				}
				d.reads = []string{"i(v0)"}
				near(t, `I"k`, must[power.Fault](t)(power.FaultLevel(fc)).InitialA, d.run(t, ngspice)[0], outsideTolerance)
			}
		})
	}
}
