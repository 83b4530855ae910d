package kinds

import (
	"testing"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
)

// No judgement of a base trial makes more of memory than this: it is what its time goes by
// on any machine.
func TestJudge_allocations(t *testing.T) {
	const most = 10_000
	names := plan.KindNames()
	if len(names) == 0 {
		t.Fatal("no kinds")
	}
	for _, name := range names {
		in := baseOf(t, name)
		if got := testing.AllocsPerRun(1, func() { checks.Judge(in) }); got > most {
			t.Errorf("%s: a judgement allocates %v times, at most %d are wanted", name, got, most)
		}
	}
}

// The fits of nine volts across are shared by all that is shown of them.
func TestCross_fits_are_shared(t *testing.T) {
	in := baseOf(t, "cross-volts")
	v, ok := crossReadings(in)
	if !ok {
		t.Fatal("the base trial has no nine volts")
	}
	at := func(key string) float64 { return in.Answers[key].Value }
	l := crossExprs(func(key string) *calc.Expr {
		if _, ok := in.Answers[key]; !ok {
			return nil
		}
		return calc.Reading(key, key, "V")
	}, "")
	for j := range 3 {
		l.apart(j).Eval(at)
		l.displacement([3]int{0, 1, 2}, 0).Eval(at)
	}
	if len(l.fits) != 1 {
		t.Errorf("%d fits of one set of volts, want 1", len(l.fits))
	}
	v.Across[0][0]++
	before := countPlaced(l.places, v)
	if again := countPlaced(l.places, v); before != 1 || again != 0 {
		t.Errorf("one reading across that is another has %d points sought, then %d; want 1 and 0", before, again)
	}
}

func countPlaced(p *power.CrossPlacer, v power.CrossVolts) int {
	before := p.Sought()
	_, _ = p.Place(v)
	return p.Sought() - before
}
