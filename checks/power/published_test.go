package power_test

import (
	"math"
	"math/cmplx"
	"testing"

	"handback/checks/power"
)

// published is one figure printed in, or worked from the stated formula of, a source outside this program.
// Want carries the printed digits; tol is half of the last one.
type published struct {
	name, source string
	got          func(t *testing.T) float64
	want, tol    float64
}

func TestPublished(t *testing.T) {
	groups := map[string][]published{
		"sequence": publishedSequence(), "share": publishedShare(),
		"circulating": publishedCirculating(), "fault": publishedFault(), "tap": publishedTap(),
	}
	for group, list := range groups {
		if len(list) == 0 {
			t.Errorf("%s: no published value", group)
		}
		for _, p := range list {
			t.Run(group+"/"+p.name, func(t *testing.T) {
				if p.source == "" || !(p.tol > 0) || !(p.tol < 0.02*math.Abs(p.want)+1e-3) {
					t.Fatalf("source %q, tolerance %g on %g: each value needs an origin and a tight tolerance", p.source, p.tol, p.want)
				}
				within(t, p.name+" ("+p.source+")", p.got(t), p.want, p.tol)
			})
		}
	}
}

func publishedSequence() []published {
	const source = "Langsdorf, Theory of Alternating-Current Machinery, p.130"
	v := [3]complex128{complex(1000, 50), complex(-800, 100), complex(-200, -150)}
	zero, pos, neg := power.Sequence(v)
	value := func(x float64) func(*testing.T) float64 { return func(*testing.T) float64 { return x } }
	return []published{
		{"zero", source, value(cmplx.Abs(zero)), 0, 1e-9},
		{"positive", source, value(cmplx.Abs(pos)), 452.774, 5e-4},
		{"positive angle", source, value(power.Degrees(pos)), -19.11, 5e-3},
		{"negative", source, value(cmplx.Abs(neg)), 605.527, 5e-4},
		{"negative angle", source, value(power.Degrees(neg)), 19.11, 5e-3},
	}
}

// unit is a transformer of va and z % with a resistance of r % on its rating, on 400 V.
func unit(va, r, x float64) power.Transformer {
	return power.Transformer{RatedVA: va, ImpedancePct: math.Hypot(r, x), LoadLossW: r / 100 * va, NoLoadLL: 400}
}

// shareOf returns the part of total that source n of equal voltage takes.
func shareOf(n int, total float64, units ...power.Transformer) func(*testing.T) float64 {
	return func(t *testing.T) float64 {
		var sources []power.Source
		for _, u := range units {
			sources = append(sources, must[power.Source](t)(u.Source(400)))
		}
		_, currents, err := power.Solve(sources, 1000)
		if err != nil {
			t.Fatal(err)
		}
		return cmplx.Abs(currents[n]) / 1000 * total
	}
}

func publishedShare() []published {
	const (
		pair   = "printed exercise: 1000 kVA 5 % with 1500 kVA 8 %, the first full at 1937.5 kVA"
		three  = "printed exercise: 100, 150 and 150 MVA at 10, 9 and 8 %"
		twin   = "Theraja, Electrical Technology, Ex 32.102 = Kosow 14.26"
		ohms   = "Theraja, Electrical Technology, Ex 32.99"
		closed = "derived: 1050 + 150 kVA over two equal 1000 kVA units"
	)
	a, b := unit(1000e3, 0, 5), unit(1500e3, 0, 8)
	x, y, z := unit(100e6, 0, 10), unit(150e6, 0, 9), unit(150e6, 0, 8)
	p, q := unit(500e3, 1, 5), unit(250e3, 1.5, 4)
	// 180 kW at 0.9 lagging; the shares do not hang on the voltage, so any current at that factor will do.
	watts := func(n int) func(*testing.T) float64 {
		return func(t *testing.T) float64 {
			sources := []power.Source{{E: 6000, Z: complex(0.5, 8)}, {E: 6000, Z: complex(0.75, 4)}}
			bus, currents, err := power.SolveFactor(sources, 33, 0.9)
			if err != nil {
				t.Fatal(err)
			}
			watts := func(i complex128) float64 { return real(bus * cmplx.Conj(i)) }
			return 180 * watts(currents[n]) / watts(currents[0]+currents[1])
		}
	}
	return []published{
		{"pair first", pair, shareOf(0, 1937.5, a, b), 1000, 1e-6},
		{"pair second", pair, shareOf(1, 1937.5, a, b), 937.5, 1e-6},
		{"three first", three, shareOf(0, 400, x, y, z), 88.07, 5e-3},
		{"three second", three, shareOf(1, 400, x, y, z), 146.789, 5e-4},
		{"three third", three, shareOf(2, 400, x, y, z), 165.137, 1e-3}, // printed cut, not rounded: 165.1376
		{"three third full", three, shareOf(2, 363.3, x, y, z), 150, 0.05},
		{"twin first", twin, shareOf(0, 750, p, q), 471.126, 5e-4},
		{"twin second", twin, shareOf(1, 750, p, q), 281.166, 5e-4},
		{"ohms first kW", ohms, watts(0), 58.12, 5e-3},
		{"ohms second kW", ohms, watts(1), 121.88, 5e-3},
		{"closed", closed, shareOf(0, 1200, unit(1000e3, 1, 5), unit(1000e3, 1, 5)), 600, 1e-6},
	}
}

func publishedCirculating() []published {
	const (
		hubert = "Hubert, Electric Machines, Ex 3.4"
		loop   = "derived: the loop impedance is the sum, so 4 % over 2 + 2 % is rated current"
	)
	hubertAmps := func(t *testing.T) float64 {
		// Single-phase units, so per-phase ohms on each unit's own secondary volts: z % of V²/S.
		z := func(volts float64, pct complex128) complex128 { return pct / 100 * complex(volts*volts/100e3, 0) }
		a := power.Source{E: 460, Z: z(460, complex(1.36, 3.50))}
		b := power.Source{E: 450, Z: z(450, complex(1.40, 3.32))}
		return cmplx.Abs(must[complex128](t)(power.Circulating(a, b)))
	}
	return []published{
		{"amperes", hubert, hubertAmps, 65.616, 5e-4},
		{"percent of the first", hubert, func(t *testing.T) float64 { return 100 * hubertAmps(t) / (100e3 / 460.0) }, 30.18, 5e-3},
		{"percent of rated", loop, func(t *testing.T) float64 {
			a, b := unit(1000e3, 0, 2), unit(1000e3, 0, 2)
			a.NoLoadLL = 416
			i := must[complex128](t)(power.Circulating(must[power.Source](t)(a.Source(400)), must[power.Source](t)(b.Source(400))))
			return 100 * cmplx.Abs(i) / must[float64](t)(a.RatedAmps(400))
		}, 100, 1e-9},
	}
}

// faultKA returns the initial current in kA of n lossless units, with voltage factors of 1 as the sources take them.
func faultKA(supplyVA, va, pct, volts float64, n int) func(*testing.T) float64 {
	return func(t *testing.T) float64 {
		c := power.FaultCase{Supply: power.Supply{FaultVA: supplyVA, C: 1}, NominalLV: volts, C: 1}
		for range n {
			c.Units = append(c.Units, power.FaultUnit{Transformer: unit(va, 0, pct), RatedLV: volts})
		}
		return must[power.Fault](t)(power.FaultLevel(c)).InitialA / 1e3
	}
}

// transformer09094 is one of the two 20/0.41 kV units of 4 %.
func transformer09094(va, loss float64) power.FaultUnit {
	return power.FaultUnit{Transformer: power.Transformer{RatedVA: va, ImpedancePct: 4, LoadLossW: loss}, RatedLV: 410}
}

// fault09094 is their initial current in kA behind 10 kA at 20 kV.
func fault09094(units ...power.FaultUnit) func(*testing.T) float64 {
	return func(t *testing.T) float64 {
		supply := power.Supply{FaultVA: math.Sqrt(3) * 20e3 * 10e3, C: 1.1, RX: power.SupplyRX}
		return must[power.Fault](t)(power.FaultLevel(power.FaultCase{Supply: supply, Units: units, NominalLV: 400, C: 1.05, Corrected: true})).InitialA / 1e3
	}
}

func publishedFault() []published {
	const (
		small  = "printed table: 400 kVA, 420 V, 4 %, supply of no impedance"
		behind = "printed exercise: 1000 kVA, 5 %, 480 V behind 500 MVA"
		common = "derived: 1000 kVA, 5 %, 400 V behind a common 500 MVA"
		report = "inputs of IEC TR 60909-4 (from memory), derived without the leads of the second transformer: with them 34.62 kA is printed"
	)
	inf := math.Inf(1)
	a, b := transformer09094(630e3, 6500), transformer09094(400e3, 4600)
	return []published{
		{"both", report, fault09094(a, b), 35.18, 5e-3},
		{"630 kVA alone", report, fault09094(a), 22.18, 5e-3},
		{"400 kVA alone", report, fault09094(b), 14.34, 5e-3},
		{"400 kVA", small, faultKA(inf, 400e3, 4, 420, 1), 13.746, 5e-4},
		{"1000 kVA 480 V", behind, faultKA(500e6, 1000e3, 5, 480, 1), 23.13, 5e-3},
		{"one of two", common, faultKA(500e6, 1000e3, 5, 400, 1), 27.76, 5e-3},
		{"two", common, faultKA(500e6, 1000e3, 5, 400, 2), 53.46, 5e-3},
	}
}

func publishedTap() []published {
	const source = "derived from the rated ratio: 11.2 kV on 11/0.433 kV"
	lv := func(tap float64) func(*testing.T) float64 {
		return func(t *testing.T) float64 { return must[float64](t)(power.LVNoLoad(11200, 433, tap)) }
	}
	return []published{
		{"principal", source, lv(11000), 440.873, 5e-4},
		{"+2.5 %", source, lv(11275), 430.120, 5e-4},
		{"-2.5 %", source, lv(10725), 452.177, 5e-4},
	}
}
