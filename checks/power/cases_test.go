package power_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"testing"

	"handback/checks/power"
)

// caseTolerance is the relative agreement asked with the cases worked out outside this program.
const caseTolerance = 1e-9

type unitCase struct {
	KVA      float64 `json:"kVA"`
	ZPct     float64 `json:"z_pct"`
	LossW    float64 `json:"loss_W"`
	NoLoadLL float64 `json:"u0_V"`
	PhaseDeg float64 `json:"phase_deg"`
}

type parallelCase struct {
	Uref         float64    `json:"uref_V"`
	Transformers []unitCase `json:"transformers"`
	LoadA        float64    `json:"load_A"`
	PF           float64    `json:"pf"`
	BusV         float64    `json:"bus_V"`
	CurrentA     []float64  `json:"current_A"`
	CirculatingA *float64   `json:"circulating_A"`
}

type caseFile struct {
	Source    string `json:"source"`
	Unbalance []struct {
		LL [3]float64 `json:"ll"`
		LN [3]float64 `json:"ln"`
		U0 float64    `json:"u0_pct"`
	} `json:"unbalance"`
	Parallel []parallelCase `json:"parallel"`
}

func loadCases(t testing.TB) caseFile {
	t.Helper()
	raw, err := os.ReadFile("../../testdata/cases/power.json")
	if err != nil {
		t.Fatal(err)
	}
	var c caseFile
	if err := json.Unmarshal(raw, &c); err != nil {
		t.Fatal(err)
	}
	if c.Source == "" || len(c.Unbalance) == 0 || len(c.Parallel) == 0 {
		t.Fatalf("power.json: source %q, %d unbalance, %d parallel cases: none may be empty", c.Source, len(c.Unbalance), len(c.Parallel))
	}
	return c
}

// sources returns the transformers of the case and the sources they are.
func (c parallelCase) sources(t testing.TB) ([]power.Transformer, []power.Source) {
	t.Helper()
	var units []power.Transformer
	var sources []power.Source
	for _, u := range c.Transformers {
		unit := power.Transformer{RatedVA: u.KVA * 1e3, ImpedancePct: u.ZPct, LoadLossW: u.LossW, NoLoadLL: u.NoLoadLL, PhaseDeg: u.PhaseDeg}
		units = append(units, unit)
		sources = append(sources, must[power.Source](t)(unit.Source(c.Uref)))
	}
	return units, sources
}

// load returns the load current of the case.
func (c parallelCase) load() complex128 {
	return power.Polar(c.LoadA, -math.Acos(c.PF)*180/math.Pi)
}

func TestCases_neutral(t *testing.T) {
	for i, c := range loadCases(t).Unbalance {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			points, err := power.Triangle(c.LL)
			if err != nil {
				t.Fatal(err)
			}
			n, residual, err := power.Neutral(points, c.LN)
			if err != nil {
				t.Fatal(err)
			}
			within(t, "residual V", residual, 0, 1e-9)
			_, u0, err := power.ZeroSequence(points, n)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "u0 %", 100*u0, c.U0, caseTolerance)
		})
	}
}

func TestCases_parallel(t *testing.T) {
	circulating := 0
	for i, c := range loadCases(t).Parallel {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			if len(c.CurrentA) == 0 || len(c.CurrentA) != len(c.Transformers) {
				t.Fatalf("%d currents for %d transformers", len(c.CurrentA), len(c.Transformers))
			}
			_, sources := c.sources(t)
			bus, currents, err := power.Solve(sources, c.load())
			if err != nil {
				t.Fatal(err)
			}
			near(t, "bar V", cmplx.Abs(bus)*math.Sqrt(3), c.BusV, caseTolerance)
			for k, want := range c.CurrentA {
				near(t, fmt.Sprintf("current %d A", k+1), cmplx.Abs(currents[k]), want, caseTolerance)
			}
			if c.CirculatingA != nil {
				circulating++
				got := must[complex128](t)(power.Circulating(sources[0], sources[1]))
				near(t, "circulating A", cmplx.Abs(got), *c.CirculatingA, caseTolerance)
			}
		})
	}
	if circulating == 0 {
		t.Error("no case gives a circulating current")
	}
}
