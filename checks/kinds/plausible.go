package kinds

import (
	"math"
	"slices"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// What follows says of every kind's readings what cannot be. A doubt is asked again
// and, kept, leaves the finding inconclusive. All bounds are our choice and wide on
// purpose: they name the impossible, not the unusual.

// The shares of what plates and nominal volts give between which live plant stands
// (our choice). It is wider than any published band: what lies outside is not live,
// or is other plant.
const liveShare, overShare = 0.8, 1.2

// levels are the line-to-line volts at which the named boards and incomers, of
// transformers their LV sides on any tap, stand when they are live; where none is named
// or known, those of all the plant, HV and its voltage transformers too. nil when the
// plan gives none.
func levels(in checks.Input, boards, incomers []string) []float64 {
	var out []float64
	for _, b := range in.Plan.Plant.Boards {
		if slices.Contains(boards, b.ID) {
			out = append(out, float64(b.Nominal))
		}
	}
	for i := range in.Plan.Plant.Transformers {
		if t := &in.Plan.Plant.Transformers[i]; slices.Contains(incomers, t.ID) {
			out = append(out, lvLevels(in, t)...)
		}
	}
	for _, x := range in.Plan.Plant.Incomers {
		if slices.Contains(incomers, x.ID) {
			out = append(out, float64(x.Rated))
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, x := range in.Plan.Plant.Incomers {
		out = append(out, float64(x.Rated))
	}
	for _, b := range in.Plan.Plant.Boards {
		out = append(out, float64(b.Nominal))
	}
	for i := range in.Plan.Plant.Transformers {
		t := &in.Plan.Plant.Transformers[i]
		out = append(append(out, lvLevels(in, t)...), float64(t.HV))
	}
	if s := in.Plan.Plant.Supply; s != nil {
		out = append(out, float64(s.Usual))
	}
	if len(out) > 0 && slices.Max(out) > 1000 {
		out = append(out, secondaries...)
	}
	return out
}

// secondaries are the rated volts between conductors at the secondary terminals of
// voltage transformers, where HV is read (IEC 61869-3 and IEEE C57.13, from memory).
var secondaries = []float64{100, 110, 115, 120}

// lvLevels are the LV volts of a transformer: rated, and on each tap at the usual HV
// volts.
func lvLevels(in checks.Input, t *plan.Transformer) []float64 {
	out := []float64{float64(t.LV)}
	for i := range t.Taps {
		if e := expectNoLoad(in, t, &t.Taps[i], "", 0); e != nil {
			out = append(out, e.Value)
		}
	}
	return out
}

// atLevel tells whether line-to-line volts are those of live plant at one of the
// levels; of any plant that may be live where there are none.
func atLevel(u float64, levels []float64) bool {
	if len(levels) == 0 {
		return u >= checks.LeastLive
	}
	return slices.ContainsFunc(levels, func(l float64) bool {
		return quantity.NotBelow(u, liveShare*l) && quantity.NotAbove(u, overShare*l)
	})
}

// doubtLive names volts that live plant of these levels does not read: line has the
// fields of line-to-line volts, phase those of line-to-neutral volts. Volts that are
// low beside others that are right are a finding, such as a phase that is out, and no
// doubt; volts that are low or strange all together are.
func doubtLive(in checks.Input, levels []float64, line, phase []string) []checks.Doubt {
	var read, over []string
	right, most := false, 0.0
	for i, keys := range [][]string{line, phase} {
		for _, k := range keys {
			a, ok := in.Answers[k]
			if !ok || a.Value < 0 {
				continue
			}
			u := a.Value * math.Sqrt([]float64{1, 3}[i])
			read, most, right = append(read, k), math.Max(most, u), right || atLevel(u, levels)
			if len(levels) > 0 && quantity.Above(u, overShare*slices.Max(levels)) {
				over = append(over, k)
			}
		}
	}
	switch {
	case len(read) == 0:
		return nil
	case len(over) > 0:
		return []checks.Doubt{{Fields: over, Said: offLevel(in, "volts-too-high", over, levels, checks.Inner("level", shareOf(overShare, slices.Max(levels))))}}
	case right:
		return nil
	case len(levels) == 0:
		return []checks.Doubt{{Fields: read, Said: checks.Say("volts-not-live", readings(in, read), checks.Num("least", checks.LeastLive, "V"))}}
	case most < liveShare*slices.Min(levels):
		return []checks.Doubt{{Fields: read, Said: offLevel(in, "volts-too-low", read, levels, checks.Inner("level", shareOf(liveShare, slices.Min(levels))))}}
	}
	return []checks.Doubt{{Fields: read, Said: offLevel(in, "volts-of-other-plant", read, levels, voltsList("levels", levels))}}
}

// doubtSide names volts of one side that cannot be: those that are not possible
// together, and those of no live plant of these levels.
func doubtSide(in checks.Input, prefix string, levels []float64) []checks.Doubt {
	out := doubtVolts(in, prefix)
	return append(out, checks.NotYetDoubted(doubtLive(in, levels, withPrefix(prefix, lineKeys), withPrefix(prefix, phaseKeys)), out)...)
}

// offLevel says that readings stand at no level of the plant, and which slip would
// bring the first of them from one.
func offLevel(in checks.Input, code string, keys []string, levels []float64, more checks.Arg) checks.Said {
	return checks.Say(code, readings(in, keys), more, checks.Word("slip", slipFrom(in.Answers[keys[0]].Value, levels)))
}

// readings lists volts that were read.
func readings(in checks.Input, keys []string) checks.Arg {
	var out []float64
	for _, k := range keys {
		out = append(out, in.Answers[k].Value)
	}
	return checks.Volts("readings", out)
}

// shareOf is a share of nominal volts.
func shareOf(share, of float64) checks.Said {
	return checks.Say("share-of-nominal", checks.Num("volts", share*of, "V"), checks.Num("share", share*100, "%"), checks.Num("of", of, "V"))
}

// voltsList lists volts, each once, the lowest first.
func voltsList(name string, levels []float64) checks.Arg {
	return checks.Volts(name, slices.Compact(slices.Sorted(slices.Values(levels))))
}

// slipFrom is the slip that would bring a reading from one of the levels: "point" for a
// decimal point or unit, "phase" for line-to-neutral volts; "" for none.
func slipFrom(x float64, levels []float64) string {
	for _, l := range levels {
		for _, by := range []float64{10, 100, 1000} {
			if near(x*by, l) || near(x/by, l) {
				return "point"
			}
		}
		if near(x*math.Sqrt(3), l) {
			return "phase"
		}
	}
	return ""
}

// offNominal is how far a frequency may stand from nominal before it is doubted, Hz:
// a supply stays within a few per cent (EN 50160, from memory), and what stands
// farther off is a generator to be brought to speed first (our choice).
const offNominal = 3.0

// doubtHertz names frequencies that no power system of this plant has.
func doubtHertz(in checks.Input, keys ...string) []checks.Doubt {
	var out []checks.Doubt
	for _, k := range keys {
		a, ok := in.Answers[k]
		if !ok {
			continue
		}
		if f := float64(in.Plan.System.Frequency); f > 0 {
			if !(math.Abs(a.Value-f) <= offNominal) {
				out = append(out, checks.Doubt{Fields: []string{k}, Said: checks.Say("frequency-off", checks.Num("read", a.Value, "Hz"), checks.Num("nominal", f, "Hz"), checks.Num("most", offNominal, "Hz"))})
			}
			continue
		}
		if !slices.ContainsFunc([]float64{50, 60, 50.0 / 3}, func(f float64) bool { return math.Abs(a.Value-f) <= offNominal }) {
			out = append(out, checks.Doubt{Fields: []string{k}, Said: checks.Say("frequency-of-no-system", checks.Num("read", a.Value, "Hz"))})
		}
	}
	return out
}

// manyTimesRated is how many times the rated current a load may read before it is
// doubted: a unit trips long before (our choice).
const manyTimesRated = 3.0

// doubtAmps names currents that no load of an incomer reaches.
func doubtAmps(in checks.Input, t *plan.Rated, keys ...string) []checks.Doubt {
	if t == nil {
		return nil
	}
	var out []checks.Doubt
	rated := float64(t.Rating) / (math.Sqrt(3) * float64(t.Volts))
	for _, k := range keys {
		if a, ok := in.Answers[k]; ok && quantity.Above(a.Value, manyTimesRated*rated) {
			out = append(out, checks.Doubt{Fields: []string{k}, Said: checks.Say("many-times-rated", checks.Num("read", a.Value, "A"), checks.Num("times", a.Value/rated, ""), checks.Word("transformer", t.ID), checks.Num("rated", rated, "A"))})
		}
	}
	return out
}

// leastFactor is the power factor under which a load is doubted (our choice): a motor at
// no load stands there, and no board does.
const leastFactor = 0.1

// doubtPowerFactor names power factors that no load has.
func doubtPowerFactor(in checks.Input, key string) []checks.Doubt {
	a, ok := in.Answers[key]
	if !ok || a.Value >= leastFactor && a.Value <= 1 {
		return nil
	}
	return []checks.Doubt{{Fields: []string{key}, Said: checks.Say("no-power-factor", checks.Num("read", a.Value, ""), checks.Num("least", leastFactor, ""))}}
}

// underAir is how far a winding may stand under the air around it before a reading
// is doubted, K: cold plant in a warm room (our choice).
const underAir = 10.0

// doubtCool names a winding far colder than its ambient and, at the end of a soak, one
// that is no warmer.
func doubtCool(in checks.Input, temp, ambient string, last bool) []checks.Doubt {
	t, okT := in.Answers[temp]
	air, okA := in.Answers[ambient]
	least := air.Value - underAir
	if last {
		least = math.Nextafter(air.Value, math.Inf(1))
	}
	if !okT || !okA || t.Value >= least {
		return nil
	}
	return []checks.Doubt{{Fields: []string{temp, ambient}, Said: checks.Say("colder-than-air", checks.Num("read", t.Value, "°C"), checks.Num("ambient", air.Value, "°C"))}}
}

// warmestAmbient is the air beside plant above which a reading is doubted, °C (our
// choice): plant is made for 40 °C, and an ambient typed too high hides what is hot.
const warmestAmbient = 60.0

// doubtAmbient names an ambient that no switchroom or site has.
func doubtAmbient(in checks.Input, key string) []checks.Doubt {
	a, ok := in.Answers[key]
	if !ok || a.Value >= coldest && a.Value <= warmestAmbient {
		return nil
	}
	return []checks.Doubt{{Fields: []string{key}, Said: checks.Say("no-ambient", checks.Num("read", a.Value, "°C"), checks.Num("coldest", coldest, "°C"), checks.Num("warmest", warmestAmbient, "°C"))}}
}
