package checks

import "testing"

// BenchmarkJudge judges the base trial of every kind.
func BenchmarkJudge(b *testing.B) {
	for _, name := range KindNames() {
		b.Run(name, func(b *testing.B) {
			trial, err := LoadTrial(name+".json", readCases(b, name).trial(b, nil))
			if err != nil {
				b.Fatal(err)
			}
			in, found, err := trial.Judge()
			if err != nil || found.Verdict != Pass {
				b.Fatalf("the base trial comes to %s, %v", found.Verdict, err)
			}
			b.ReportAllocs()
			for b.Loop() {
				Judge(in)
			}
		})
	}
}
