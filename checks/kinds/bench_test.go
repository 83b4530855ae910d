package kinds

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// baseOf is the base trial of a kind.
func baseOf(t testing.TB, name string) checks.Input {
	trial, err := plan.LoadTrial(name+".json", cases.Read(t, name).Trial(t, nil))
	if err != nil {
		t.Fatal(err)
	}
	in, found, err := checks.JudgeTrial(trial)
	if err != nil || found.Verdict != checks.Pass {
		t.Fatalf("the base trial comes to %s, %v", found.Verdict, err)
	}
	return in
}

// BenchmarkJudge judges the base trial of every kind.
func BenchmarkJudge(b *testing.B) {
	for _, name := range plan.KindNames() {
		b.Run(name, func(b *testing.B) {
			in := baseOf(b, name)
			b.ReportAllocs()
			for b.Loop() {
				checks.Judge(in)
			}
		})
	}
}

// BenchmarkJudge_cases judges every case of every kind and tells the middle and the
// largest of what one takes, each the least of its rounds: what else the machine does
// counts least then.
func BenchmarkJudge_cases(b *testing.B) {
	type judged struct {
		name string
		in   checks.Input
		took time.Duration
	}
	var all []judged
	for _, name := range plan.KindNames() {
		f := cases.Read(b, name)
		for _, c := range f.Cases {
			trial, err := plan.LoadTrial(name+".json", f.Trial(b, c.Set))
			if err != nil {
				continue // a case of what is refused
			}
			if in, _, err := checks.JudgeTrial(trial); err == nil {
				all = append(all, judged{fmt.Sprintf("%s: %s", name, c.Name), in, time.Hour})
			}
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		for i := range all {
			start := time.Now()
			checks.Judge(all[i].in)
			all[i].took = min(all[i].took, time.Since(start))
		}
	}
	slices.SortFunc(all, func(a, b judged) int { return int(a.took - b.took) })
	for _, l := range all[len(all)-3:] {
		b.Logf("%v %s", l.took, l.name)
	}
	b.ReportMetric(0, "ns/op") // of all cases together: it tells nothing
	b.ReportMetric(float64(all[len(all)/2].took.Nanoseconds()), "ns/median")
	b.ReportMetric(float64(all[len(all)-1].took.Nanoseconds()), "ns/largest")
	b.ReportMetric(float64(len(all)), "judgements/op")
}
