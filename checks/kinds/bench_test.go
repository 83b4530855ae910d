package kinds

import (
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// BenchmarkJudge judges the base trial of every kind.
func BenchmarkJudge(b *testing.B) {
	for _, name := range plan.KindNames() {
		b.Run(name, func(b *testing.B) {
			trial, err := plan.LoadTrial(name+".json", cases.Read(b, name).Trial(b, nil))
			if err != nil {
				b.Fatal(err)
			}
			in, found, err := checks.JudgeTrial(trial)
			if err != nil || found.Verdict != checks.Pass {
				b.Fatalf("the base trial comes to %s, %v", found.Verdict, err)
			}
			b.ReportAllocs()
			for b.Loop() {
				checks.Judge(in)
			}
		})
	}
}
