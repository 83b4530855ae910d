package quantity

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"testing"

	"pgregory.net/rapid"
)

// The patterns of a schema tell what a bound refuses, as the parser and the comparison
// here do: for any number in any of the units, but within slack of the bound.
func TestPatterns_bounds(t *testing.T) {
	for _, c := range []struct {
		of, unit string
		bound    float64
	}{{"voltage", "V", 50}, {"voltage", "V", 1.2e6}, {"share", "%", 25}, {"share", "%", 0.5}, {"share", "%", 7.25}, {"duration", "s", 3600}, {"duration", "min", 90},
		{"resistance", "Ω", 0.05}, {"torque", "N·m", 1}, {"current", "A", 1005}, {"temperature", "°C", 200}} {
		above, below := regexp.MustCompile(AbovePattern(c.of, c.bound, c.unit)), regexp.MustCompile(BelowPattern(c.of, c.bound, c.unit))
		bound := ToBase(c.bound, c.unit)
		seen := map[bool]int{}
		hold := func(f interface{ Fatalf(string, ...any) }, typed, unit string) {
			q, err := ParseQuantity(typed, c.of, "")
			if err != nil || math.Abs(q.Value-bound) < 1e-8*math.Abs(bound) && q.Value != bound {
				return // no such quantity, or within the slack
			}
			seen[Above(q.Value, bound)]++
			if got := above.MatchString(typed); got != Above(q.Value, bound) {
				f.Fatalf("%q above %v %s: %v", typed, c.bound, c.unit, got)
			}
			if got := below.MatchString(typed); got != (Below(q.Value, bound) && FromBase(bound, unit) >= 0) {
				f.Fatalf("%q below %v %s: %v", typed, c.bound, c.unit, got)
			}
		}
		for _, x := range []float64{c.bound / 2, 2 * c.bound} { // a short run may draw one side alone
			hold(t, strconv.FormatFloat(x, 'f', -1, 64)+" "+c.unit, c.unit)
		}
		rapid.Check(t, func(r *rapid.T) {
			unit := rapid.SampledFrom(UnitsOf(c.of)).Draw(r, "unit")
			at := FromBase(bound, unit)
			x := rapid.OneOf(rapid.Float64Range(0, 2*math.Abs(at)), rapid.Float64Range(0, 1e6), rapid.Just(at)).Draw(r, "x")
			text := strconv.FormatFloat(x, 'f', rapid.IntRange(0, 6).Draw(r, "digits"), 64)
			hold(r, rapid.SampledFrom([]string{"", "0", "+"}).Draw(r, "before")+text+rapid.SampledFrom([]string{" ", ""}).Draw(r, "space")+unit, unit)
		})
		if seen[true] == 0 || seen[false] == 0 {
			t.Error(fmt.Sprint(c, ": nothing was tried on one side"))
		}
	}
}
