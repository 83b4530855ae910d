package power

import (
	"math"
	"testing"
)

// The smallest circle that holds a triangle, by Euclid: round its corners where it has no
// angle beyond 90°, over its longest side otherwise.
func TestLeastReach(t *testing.T) {
	for _, c := range []struct {
		sides [3]float64
		want  float64
	}{
		{[3]float64{400, 400, 400}, 400 / math.Sqrt(3)},
		{[3]float64{500, 300, 400}, 250}, // Thales
		{[3]float64{13, 14, 15}, 8.125},  // 13·14·15/(4·84), the area 84 by Heron
		{[3]float64{100, 190, 100}, 95},
		{[3]float64{0, 400, 400}, 200}, // two conductors at one place
	} {
		if got := leastReach(c.sides); !(math.Abs(got-c.want) <= 1e-12*c.want) {
			t.Errorf("%v: %v, want %v", c.sides, got, c.want)
		}
	}
}
