package power_test

import (
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"pgregory.net/rapid"

	"handback/checks/power"
)

// drawSources draws one to six transformers of usual size on 400 V.
func drawSources(r *rapid.T) []power.Source {
	var sources []power.Source
	for range rapid.IntRange(1, 6).Draw(r, "sources") {
		u := power.Transformer{
			RatedVA:      rapid.Float64Range(100e3, 3e6).Draw(r, "VA"),
			ImpedancePct: rapid.Float64Range(3, 8).Draw(r, "z %"),
			NoLoadLL:     rapid.Float64Range(380, 440).Draw(r, "V"),
			PhaseDeg:     rapid.Float64Range(-5, 5).Draw(r, "deg"),
		}
		u.LoadLossW = u.RatedVA * rapid.Float64Range(0, 0.02).Draw(r, "r")
		sources = append(sources, must[power.Source](r)(u.Source(400)))
	}
	return sources
}

func TestSolve_currentsSumToTheLoad(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		sources := drawSources(r)
		load := power.Polar(rapid.Float64Range(0, 5000).Draw(r, "A"), rapid.Float64Range(-180, 180).Draw(r, "deg"))
		bus, currents, err := power.Solve(sources, load)
		if err != nil {
			r.Fatal(err)
		}
		var sum complex128
		for i, c := range currents {
			sum += c
			withinZ(r, "volts round each branch", bus+c*sources[i].Z, sources[i].E, 1e-9)
		}
		withinZ(r, "sum of currents", sum, load, 1e-7)
	})
}

func TestSolve_circulatingIsTheNoLoadCurrent(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		sources := drawSources(r)
		if len(sources) != 2 {
			r.Skip("a loop has two")
		}
		_, currents, err := power.Solve(sources, 0)
		if err != nil {
			r.Fatal(err)
		}
		i := must[complex128](r)(power.Circulating(sources[0], sources[1]))
		withinZ(r, "out of the first", i, currents[0], 1e-7)
		withinZ(r, "into the second", -i, currents[1], 1e-7)
	})
}

// The current drawn is the one asked for, at the power factor asked for against the bar.
func TestSolveFactor_drawsTheLoad(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		sources := drawSources(r)
		amps, pf := rapid.Float64Range(0, 1000).Draw(r, "A"), rapid.Float64Range(0, 1).Draw(r, "power factor")
		bus, currents, err := power.SolveFactor(sources, amps, pf)
		if err != nil {
			r.Fatal(err)
		}
		var sum complex128
		for _, c := range currents {
			sum += c
		}
		withinZ(r, "VA per phase", bus*cmplx.Conj(sum), power.Polar(cmplx.Abs(bus)*amps, math.Acos(pf)*180/math.Pi), 1e-4)
	})
}

// One source of 1 V behind 1 ohm reactive, loaded at factor 0: V = 1 − I, until none is left.
func TestSolveFactor_limit(t *testing.T) {
	one := []power.Source{{E: 1, Z: 1i}}
	for _, amps := range []float64{0, 0.1, 0.5, 0.999} {
		bus, _, err := power.SolveFactor(one, amps, 0)
		if err != nil {
			t.Fatal(err)
		}
		withinZ(t, fmt.Sprint("V at ", amps), bus, complex(1-amps, 0), 1e-12)
	}
	for _, amps := range []float64{1.001, 2, 1e6, 1e150} {
		_, _, err := power.SolveFactor(one, amps, 0)
		refused(t, fmt.Sprint(amps, " A"), err, power.ErrConverge)
	}
}

func TestSolve_domain(t *testing.T) {
	good := power.Source{E: 230, Z: complex(0.002, 0.008)}
	for name, sources := range map[string][]power.Source{
		"none":              nil,
		"no impedance":      {good, {E: 230}},
		"NaN impedance":     {good, {E: 230, Z: cmplx.NaN()}},
		"infinite volts":    {{E: cmplx.Inf(), Z: 1}},
		"admittance cancel": {{E: 230, Z: 1i}, {E: 230, Z: -1i}},
	} {
		_, _, err := power.Solve(sources, 100)
		refused(t, name, err, power.ErrSource)
		_, _, err = power.SolveFactor(sources, 100, 0.9)
		refused(t, name+", at a power factor", err, power.ErrSource)
	}
	_, _, err := power.Solve([]power.Source{good}, cmplx.NaN())
	refused(t, "NaN load", err, power.ErrSource)
	_, _, err = power.SolveFactor([]power.Source{good}, math.Inf(1), 0.9)
	refused(t, "infinite load", err, power.ErrSource)
	_, _, err = power.SolveFactor([]power.Source{good, {E: -230, Z: good.Z}}, 1, 0.9)
	refused(t, "opposed sources", err, power.ErrSource)
	_, err = power.Circulating(good, power.Source{E: 230, Z: -good.Z})
	refused(t, "no loop impedance", err, power.ErrSource)
	_, err = power.Circulating(good, power.Source{E: cmplx.NaN(), Z: good.Z})
	refused(t, "NaN volts", err, power.ErrSource)
}

func TestSolve_leavesItsArgumentAlone(t *testing.T) {
	sources := []power.Source{{E: 230, Z: 0.01i}, {E: 231, Z: 0.02i}}
	if _, _, err := power.SolveFactor(sources, 1000, 0.9); err != nil {
		t.Fatal(err)
	}
	if sources[0] != (power.Source{E: 230, Z: 0.01i}) || sources[1] != (power.Source{E: 231, Z: 0.02i}) {
		t.Errorf("sources became %v", sources)
	}
}

// 240 V behind 0.1 Ω of reactance with 100 A at 0.8 lagging against the bar: (0.8·V)² + (0.6·V + 10)² = 240², so
// V = √(36 + 57500) − 6 = 233.867 V, by hand.
func TestSolveFactor(t *testing.T) {
	one := []power.Source{{E: cmplx.Rect(240, 0.3), Z: 0.1i}}
	bus, currents, err := power.SolveFactor(one, 100, 0.8)
	if err != nil {
		t.Fatal(err)
	}
	if want := math.Sqrt(57536) - 6; !(math.Abs(cmplx.Abs(bus)-want) <= 1e-9) {
		t.Errorf("the bar stands at %v V, want %v", cmplx.Abs(bus), want)
	}
	if lag := cmplx.Phase(bus) - cmplx.Phase(currents[0]); !(math.Abs(cmplx.Abs(currents[0])-100) <= 1e-9) || !(math.Abs(math.Cos(lag)-0.8) <= 1e-12) || lag < 0 {
		t.Errorf("current %v A lags by %v, want 100 A at 0.8", currents[0], lag)
	}
	for _, c := range []struct {
		amps, pf float64
		want     error
	}{{-1, 0.8, power.ErrSource}, {math.NaN(), 0.8, power.ErrSource}, {100, 1.1, power.ErrSource}, {100, -0.1, power.ErrSource}, {2500, 0.8, power.ErrConverge}} {
		if _, _, err := power.SolveFactor(one, c.amps, c.pf); !errors.Is(err, c.want) {
			t.Errorf("%v A at %v: %v, want %v", c.amps, c.pf, err, c.want)
		}
	}
}
