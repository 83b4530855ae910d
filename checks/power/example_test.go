package power_test

import (
	"fmt"
	"math"
	"math/cmplx"

	"handback/checks/power"
)

func ExampleTriangle() {
	_, err := power.Triangle([3]float64{460, 46.7, 550}) // a slipped decimal
	fmt.Println(err)
	// Output: volts do not close a triangle: sides of 460, 46.7 and 550 V, want none longer than the other two together; read all three again
}

func ExampleSequence() {
	_, pos, neg := power.Sequence([3]complex128{1000 + 50i, -800 + 100i, -200 - 150i})
	fmt.Printf("positive %.1f at %.2f, negative %.1f at %.2f degrees\n",
		cmplx.Abs(pos), power.Degrees(pos), cmplx.Abs(neg), power.Degrees(neg))
	// Output: positive 452.8 at -19.11, negative 605.5 at 19.11 degrees
}

func ExampleNeutral() {
	points, err := power.Triangle([3]float64{400, 400, 400})
	if err != nil {
		fmt.Println(err)
		return
	}
	// L3 read as 213.0 in place of 231.0: no neutral fits all three.
	n, residual, err := power.Neutral(points, [3]float64{230.9, 230.9, 213.0})
	if err != nil {
		fmt.Println(err)
		return
	}
	u0, _, err := power.ZeroSequence(points, n)
	fmt.Printf("neutral %.1f V off centre, misfit %.1f V, %v\n", u0, residual, err)
	// Output: neutral 11.5 V off centre, misfit 6.1 V, <nil>
}

func ExampleSolve() {
	a := power.Transformer{RatedVA: 1000e3, ImpedancePct: 5, LoadLossW: 10e3, NoLoadLL: 415}
	b := power.Transformer{RatedVA: 1500e3, ImpedancePct: 6, LoadLossW: 14e3, NoLoadLL: 415}
	var sources []power.Source
	for _, t := range []power.Transformer{a, b} {
		s, err := t.Source(415)
		if err != nil {
			fmt.Println(err)
			return
		}
		sources = append(sources, s)
	}
	bus, currents, err := power.Solve(sources, power.Polar(2000, -25.8))
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("bar %.1f V, shares %.0f and %.0f A\n", math.Sqrt(3)*cmplx.Abs(bus), cmplx.Abs(currents[0]), cmplx.Abs(currents[1]))
	// Output: bar 407.4 V, shares 889 and 1111 A
}

func ExampleFaultLevel() {
	u := power.FaultUnit{Transformer: power.Transformer{RatedVA: 1000e3, ImpedancePct: 5, LoadLossW: 10e3}, RatedLV: 415}
	c := power.FaultCase{
		Supply: power.Supply{FaultVA: 250e6, C: 1.1, RX: power.SupplyRX}, Units: []power.FaultUnit{u, u},
		NominalLV: 400, C: 1.05,
	}
	f, err := power.FaultLevel(c)
	fmt.Printf("both in: %.1f kA, peak %.0f kA, %v\n", f.InitialA/1e3, f.PeakA/1e3, err)
	// Output: both in: 47.9 kA, peak 107 kA, <nil>
}

func ExampleParallel() {
	a, err := power.ParseGroup("Dyn11")
	if err != nil {
		fmt.Println(err)
		return
	}
	b, err := power.ParseGroup("Yy0")
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(power.Parallel(a, b))
	// Output: false not possible at the terminals: Dyn11 and Yy0 are 30° apart; do not connect them in parallel
}

func ExampleLVNoLoad() {
	for _, tap := range []float64{10725, 11000, 11275} {
		lv, err := power.LVNoLoad(11200, 433, tap)
		fmt.Printf("%.0f V: %.1f V %v\n", tap, lv, err)
	}
	// Output:
	// 10725 V: 452.2 V <nil>
	// 11000 V: 440.9 V <nil>
	// 11275 V: 430.1 V <nil>
}
