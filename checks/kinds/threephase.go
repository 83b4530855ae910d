package kinds

import (
	"math"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// The keys of the volts between and to the conductors of one side.
var (
	lineKeys  = [3]string{"l1l2", "l2l3", "l3l1"}
	phaseKeys = [3]string{"l1n", "l2n", "l3n"}
)

// or is a given value, or the default where it was not given.
func or[T ~float64](p *T, otherwise float64) float64 {
	if p == nil {
		return otherwise
	}
	return float64(*p)
}

// meterField asks which instrument is used; the planned one is offered.
func meterField(in checks.Input) checks.Field {
	return checks.Field{Key: "meter", Label: "instrument", Sort: checks.MeterUsed, Need: true, Default: in.Check.Meter,
		Hint: "the instrument in your hand, by its id in the plan", Example: "meter-1"}
}

// lineVolts asks the three line-to-line volts of a side; prefix and side tell
// two sides of one form apart.
func lineVolts(in checks.Input, prefix, side string, need bool, expect *checks.Expect) []checks.Field {
	c, _ := in.Plan.Conductors()
	var out []checks.Field
	for i, k := range lineKeys {
		out = append(out, checks.Field{Key: prefix + k, Label: side + c[i] + "-" + c[(i+1)%3], Sort: checks.Measured, Unit: "V", Need: need,
			Row: prefix + "line", Meter: "meter", Example: []string{"418.2", "417.6", "418.9"}[i], Expect: expect})
	}
	return out
}

// phaseVolts asks the three line-to-neutral volts of a side.
func phaseVolts(in checks.Input, prefix, side string, need bool, expect *checks.Expect) []checks.Field {
	c, n := in.Plan.Conductors()
	var out []checks.Field
	for i, k := range phaseKeys {
		out = append(out, checks.Field{Key: prefix + k, Label: side + c[i] + "-" + n, Sort: checks.Measured, Unit: "V", Need: need,
			Row: prefix + "phase", Meter: "meter", Example: []string{"241.4", "241.1", "241.9"}[i], Expect: expect})
	}
	return out
}

// atPoint names what the volts of one side are read of: fields of other checks at the
// same point are the same readings. "" leaves them their check's own.
func atPoint(point, prefix string, form []checks.Field) []checks.Field {
	for i, f := range form {
		if key, of := strings.CutPrefix(f.Key, prefix); of && point != "" && f.Sort == checks.Measured {
			form[i].Point = point + ": " + key
		}
	}
	return form
}

// lvSide is the point at which the no-load LV volts of a transformer are read.
func lvSide(p *plan.Plan, transformer string) string {
	if p.Transformer(transformer) == nil {
		return ""
	}
	return "LV side of " + transformer
}

// scaled is an expectation times a factor, nil for none.
func scaled(e *checks.Expect, by float64) *checks.Expect {
	if e == nil {
		return nil
	}
	return &checks.Expect{Value: e.Value * by, Low: e.Low * by, High: e.High * by, Source: e.Source}
}

// three reads three answers; ok is false when one is missing.
func three(in checks.Input, prefix string, keys [3]string) (v [3]float64, ok bool) {
	for i, k := range keys {
		a, has := in.Answers[prefix+k]
		if !has {
			return v, false
		}
		v[i] = a.Value
	}
	return v, true
}

// doubtVolts names volts of one side that cannot be right together: volts below
// zero, a slipped decimal, three line volts no triangle has, or line-to-neutral volts that no
// neutral point gives.
func doubtVolts(in checks.Input, prefix string) []checks.Doubt {
	var out []checks.Doubt
	for _, keys := range [][3]string{lineKeys, phaseKeys} {
		out = append(out, belowZero(in, prefix, keys)...)
		out = append(out, slipped(in, prefix, keys, "V")...)
	}
	if len(out) > 0 {
		return out
	}
	ll, ok := three(in, prefix, lineKeys)
	if !ok || ll[0] <= 0 || ll[1] <= 0 || ll[2] <= 0 {
		return nil
	}
	points, err := power.Triangle(ll)
	if err != nil {
		return []checks.Doubt{{Fields: withPrefix(prefix, lineKeys), Said: checks.Say("no-triangle", checks.Volts("readings", ll[:]))}}
	}
	ln, ok := three(in, prefix, phaseKeys)
	if !ok {
		return nil
	}
	_, residual, err := power.Neutral(points, ln)
	mean := (ll[0] + ll[1] + ll[2]) / 3
	if err != nil || !(residual <= neutralResidual*mean) {
		return []checks.Doubt{{Fields: withPrefix(prefix, phaseKeys), Said: checks.Say("no-neutral-point", checks.Num("apart", residual, "V"))}}
	}
	return nil
}

// neutralResidual is how far, as a share of the line volts, six volts may miss a
// common neutral before a digit is suspected: what one line-to-neutral reading
// 3 % off leaves, well beyond a meter's digits and a steady supply (our choice).
const neutralResidual = 0.006

// belowZero names volts typed with a minus: alternating volts are magnitudes, and
// squares would hide the sign.
func belowZero(in checks.Input, prefix string, keys [3]string) []checks.Doubt {
	var out []checks.Doubt
	for _, k := range keys {
		if a, ok := in.Answers[prefix+k]; ok && a.Value < 0 {
			f, _ := checks.FieldNamed(in.Form(), prefix+k)
			out = append(out, checks.Doubt{Fields: []string{f.Key}, Said: checks.Say("volts-below-zero", checks.Label("field", f), checks.Num("read", a.Value, "V"))})
		}
	}
	return out
}

// slipped names readings ten or a hundred times off the middle one of three; unit
// is what they are told in.
func slipped(in checks.Input, prefix string, keys [3]string, unit string) []checks.Doubt {
	v, ok := three(in, prefix, keys)
	if !ok {
		return nil
	}
	s := slices.Sorted(slices.Values(v[:]))
	middle := s[1]
	if !(middle > 0) {
		return nil
	}
	for i, x := range v {
		for _, f := range []float64{10, 100} {
			if near(x*f, middle) || near(x/f, middle) {
				base := quantity.BaseUnit(quantity.QuantityOf(unit))
				return []checks.Doubt{{Fields: []string{prefix + keys[i]}, Said: checks.Say("decimal-slipped", checks.Num("read", x, base), checks.Num("beside", middle, base), checks.Word("unit", unit))}}
			}
		}
	}
	return nil
}

func near(x, y float64) bool { return math.Abs(x-y) <= 0.15*y }

// sidesOf are the keys of the volts of several sides.
func sidesOf(keys [3]string, prefixes ...string) []string {
	var out []string
	for _, p := range prefixes {
		out = append(out, withPrefix(p, keys)...)
	}
	return out
}

func withPrefix(prefix string, keys [3]string) []string {
	return []string{prefix + keys[0], prefix + keys[1], prefix + keys[2]}
}
