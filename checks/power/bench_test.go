package power_test

import (
	"testing"

	"handback/checks/power"
)

func BenchmarkNeutral(b *testing.B) {
	points, err := power.Triangle([3]float64{414, 417, 411})
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, _, err := power.Neutral(points, [3]float64{238.1, 240.9, 239.2}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSolve(b *testing.B) {
	sources := []power.Source{{E: 240, Z: complex(0.002, 0.008)}, {E: 241, Z: complex(0.002, 0.009)}, {E: 239, Z: complex(0.001, 0.007)}}
	for b.Loop() {
		if _, _, err := power.Solve(sources, complex(2000, -700)); err != nil {
			b.Fatal(err)
		}
	}
}
