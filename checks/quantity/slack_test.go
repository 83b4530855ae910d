package quantity

import (
	"math"
	"testing"
)

// A limit includes its own value, whichever side it bounds and whatever its sign, and a
// binary fraction beyond it: 40 × 1.1 is above 44 by one (IEEE 754).
func TestSlack(t *testing.T) {
	for _, c := range []struct{ x, limit, above, below float64 }{
		{44, 44, 0, 0},
		{40 * 1.1, 44, 0, 0},
		{44 * (1 + 2e-9), 44, 1, 0},
		{44 * (1 - 2e-9), 44, 0, 1},
		{-44 * (1 + 0.5e-9), -44, 0, 0},
		{-44 * (1 - 0.5e-9), -44, 0, 0},
		{-44 * (1 + 2e-9), -44, 0, 1},
		{-44 * (1 - 2e-9), -44, 1, 0},
		{0, 0, 0, 0},
		{1e-300, 0, 1, 0},
	} {
		above, below := c.above == 1, c.below == 1
		if Above(c.x, c.limit) != above || NotAbove(c.x, c.limit) == above || Below(c.x, c.limit) != below || NotBelow(c.x, c.limit) == below {
			t.Errorf("%v against %v: above %v, not above %v, below %v, not below %v", c.x, c.limit, Above(c.x, c.limit), NotAbove(c.x, c.limit), Below(c.x, c.limit), NotBelow(c.x, c.limit))
		}
	}
	for _, c := range [][2]float64{{math.NaN(), 1}, {1, math.NaN()}} {
		if Above(c[0], c[1]) || NotAbove(c[0], c[1]) || Below(c[0], c[1]) || NotBelow(c[0], c[1]) {
			t.Errorf("%v stands somewhere to %v", c[0], c[1])
		}
	}
}
