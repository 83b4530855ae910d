package checks

import (
	"math"
	"slices"
)

// What follows says of every kind's readings what cannot be. A doubt is asked again
// and, kept, leaves the finding inconclusive. All bounds are our choice and wide on
// purpose: they name the impossible, not the unusual.

// bounds are the smallest and the largest number a quantity is ever read as, in its
// base unit.
var bounds = map[string][2]float64{
	"voltage": {-1e6, 1e6}, "current": {-1e6, 1e6}, "frequency": {0, 1e5}, "apparent power": {0, 1e10}, "power": {-1e10, 1e10},
	"resistance": {0, 1e15}, "torque": {0, 1e6}, "temperature": {absoluteZero, 2000}, "duration": {0, 1e9}, "length": {0, 1e6},
	"share": {-1e5, 1e5}, "angle": {-360, 360}, "number": {-1e9, 1e9},
}

// magnitudes are what is not below zero on live plant of alternating current, with the
// code that says so.
var magnitudes = map[string]string{"voltage": "volts-below-zero", "current": "current-below-zero"}

// impossible names numbers that no instrument reads off any plant: beyond the bounds
// of their quantity, and volts and amperes below zero in a check of live plant.
func (in Input) impossible() []Doubt {
	var out []Doubt
	for _, f := range in.Form() {
		a, ok := in.Answers[f.Key]
		if !ok || f.Sort != Measured {
			continue
		}
		of := QuantityOf(f.Unit)
		b := bounds[of]
		least := 0.0
		if in.Check.Kind.Proves {
			least = -leastLive // dead plant may leave a volt of direct current
		}
		switch code, magnitude := magnitudes[of]; {
		case magnitude && in.Check.Kind.Live && a.Value < least:
			out = append(out, Doubt{[]string{f.Key}, Say(code, Label("field", f), Num("read", a.Value, a.Unit))})
		case !(a.Value >= b[0] && a.Value <= b[1]):
			out = append(out, Doubt{[]string{f.Key}, Say("no-plant-has", Label("field", f), Num("read", a.Value, a.Unit), Word("quantity", of))})
		}
	}
	return out
}

// unnamed leaves out doubts of readings that others name already.
func unnamed(doubts, named []Doubt) []Doubt {
	inDoubt := doubted(named)
	return slices.DeleteFunc(doubts, func(d Doubt) bool { return slices.ContainsFunc(d.Fields, inDoubt) })
}

// The shares of what plates and nominal volts give between which live plant stands
// (our choice). It is wider than any published band: what lies outside is not live,
// or is other plant.
const liveShare, overShare = 0.8, 1.2

// leastLive is the volts under which nothing is live where the plan tells no nominal
// volts: the highest dead threshold for alternating current (our choice).
const leastLive = 50.0

// levels are the line-to-line volts at which the named boards, and the LV sides of
// the named transformers on any tap, stand when they are live; where none is named
// or known, those of all the plant, HV and its voltage transformers too. nil when the
// plan gives none.
func (in Input) levels(boards, transformers []string) []float64 {
	var out []float64
	for _, b := range in.Plan.Plant.Boards {
		if slices.Contains(boards, b.ID) {
			out = append(out, float64(b.Nominal))
		}
	}
	for i := range in.Plan.Plant.Transformers {
		if t := &in.Plan.Plant.Transformers[i]; slices.Contains(transformers, t.ID) {
			out = append(out, in.lvLevels(t)...)
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, b := range in.Plan.Plant.Boards {
		out = append(out, float64(b.Nominal))
	}
	for i := range in.Plan.Plant.Transformers {
		t := &in.Plan.Plant.Transformers[i]
		out = append(append(out, in.lvLevels(t)...), float64(t.HV))
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
func (in Input) lvLevels(t *Transformer) []float64 {
	out := []float64{float64(t.LV)}
	for i := range t.Taps {
		if e := in.expectNoLoad(t, &t.Taps[i], "", 0); e != nil {
			out = append(out, e.Value)
		}
	}
	return out
}

// atLevel tells whether line-to-line volts are those of live plant at one of the
// levels; of any plant that may be live where there are none.
func atLevel(u float64, levels []float64) bool {
	if len(levels) == 0 {
		return u >= leastLive
	}
	return slices.ContainsFunc(levels, func(l float64) bool { return u >= liveShare*l*(1-slack) && u <= overShare*l*(1+slack) })
}

// doubtLive names volts that live plant of these levels does not read: line has the
// fields of line-to-line volts, phase those of line-to-neutral volts. Volts that are
// low beside others that are right are a finding, such as a phase that is out, and no
// doubt; volts that are low or strange all together are.
func (in Input) doubtLive(levels []float64, line, phase []string) []Doubt {
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
			if len(levels) > 0 && u > overShare*slices.Max(levels)*(1+slack) {
				over = append(over, k)
			}
		}
	}
	switch {
	case len(read) == 0:
		return nil
	case len(over) > 0:
		return []Doubt{{over, in.offLevel("volts-too-high", over, levels, Inner("level", shareOf(overShare, slices.Max(levels))))}}
	case right:
		return nil
	case len(levels) == 0:
		return []Doubt{{read, Say("volts-not-live", in.readings(read), Num("least", leastLive, "V"))}}
	case most < liveShare*slices.Min(levels):
		return []Doubt{{read, in.offLevel("volts-too-low", read, levels, Inner("level", shareOf(liveShare, slices.Min(levels))))}}
	}
	return []Doubt{{read, in.offLevel("volts-of-other-plant", read, levels, voltsList("levels", levels))}}
}

// doubtSide names volts of one side that cannot be: those that are not possible
// together, and those of no live plant of these levels.
func (in Input) doubtSide(prefix string, levels []float64) []Doubt {
	out := doubtVolts(in, prefix)
	return append(out, unnamed(in.doubtLive(levels, withPrefix(prefix, lineKeys), withPrefix(prefix, phaseKeys)), out)...)
}

// offLevel says that readings stand at no level of the plant, and which slip would
// bring the first of them from one.
func (in Input) offLevel(code string, keys []string, levels []float64, more Arg) Said {
	return Say(code, in.readings(keys), more, Word("slip", slipFrom(in.Answers[keys[0]].Value, levels)))
}

// readings lists volts that were read.
func (in Input) readings(keys []string) Arg {
	var out []float64
	for _, k := range keys {
		out = append(out, in.Answers[k].Value)
	}
	return volts("readings", out)
}

func volts(name string, list []float64) Arg {
	out := make([]Value, len(list))
	for i, x := range list {
		out[i] = Num("", x, "V").Value
	}
	return List(name, out...)
}

// shareOf is a share of nominal volts.
func shareOf(share, of float64) Said {
	return Say("share-of-nominal", Num("volts", share*of, "V"), Num("share", share*100, "%"), Num("of", of, "V"))
}

// voltsList lists volts, each once, the lowest first.
func voltsList(name string, levels []float64) Arg {
	return volts(name, slices.Compact(slices.Sorted(slices.Values(levels))))
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
func (in Input) doubtHertz(keys ...string) []Doubt {
	var out []Doubt
	for _, k := range keys {
		a, ok := in.Answers[k]
		if !ok {
			continue
		}
		if f := float64(in.Plan.System.Frequency); f > 0 {
			if !(math.Abs(a.Value-f) <= offNominal) {
				out = append(out, Doubt{[]string{k}, Say("frequency-off", Num("read", a.Value, "Hz"), Num("nominal", f, "Hz"), Num("most", offNominal, "Hz"))})
			}
			continue
		}
		if !slices.ContainsFunc([]float64{50, 60, 50.0 / 3}, func(f float64) bool { return math.Abs(a.Value-f) <= offNominal }) {
			out = append(out, Doubt{[]string{k}, Say("frequency-of-no-system", Num("read", a.Value, "Hz"))})
		}
	}
	return out
}

// manyTimesRated is how many times the rated current a load may read before it is
// doubted: a unit trips long before (our choice).
const manyTimesRated = 3.0

// doubtAmps names currents that no load of a transformer reaches.
func (in Input) doubtAmps(t *Transformer, keys ...string) []Doubt {
	if t == nil {
		return nil
	}
	var out []Doubt
	rated := float64(t.Rating) / (math.Sqrt(3) * float64(t.LV))
	for _, k := range keys {
		if a, ok := in.Answers[k]; ok && a.Value > manyTimesRated*rated*(1+slack) {
			out = append(out, Doubt{[]string{k}, Say("many-times-rated", Num("read", a.Value, "A"), Num("times", a.Value/rated, ""), Word("transformer", t.ID), Num("rated", rated, "A"))})
		}
	}
	return out
}

// leastFactor is the power factor under which a load is doubted (our choice): a motor at
// no load stands there, and no board does.
const leastFactor = 0.1

// doubtPowerFactor names power factors that no load has.
func (in Input) doubtPowerFactor(key string) []Doubt {
	a, ok := in.Answers[key]
	if !ok || a.Value >= leastFactor && a.Value <= 1 {
		return nil
	}
	return []Doubt{{[]string{key}, Say("no-power-factor", Num("read", a.Value, ""), Num("least", leastFactor, ""))}}
}

// underAir is how far a winding may stand under the air around it before a reading
// is doubted, K: cold plant in a warm room (our choice).
const underAir = 10.0

// doubtCool names a winding far colder than its ambient and, at the end of a soak, one
// that is no warmer.
func (in Input) doubtCool(temp, ambient string, last bool) []Doubt {
	t, okT := in.Answers[temp]
	air, okA := in.Answers[ambient]
	least := air.Value - underAir
	if last {
		least = math.Nextafter(air.Value, math.Inf(1))
	}
	if !okT || !okA || t.Value >= least {
		return nil
	}
	return []Doubt{{[]string{temp, ambient}, Say("colder-than-air", Num("read", t.Value, "°C"), Num("ambient", air.Value, "°C"))}}
}

// warmestAmbient is the air beside plant above which a reading is doubted, °C (our
// choice): plant is made for 40 °C, and an ambient typed too high hides what is hot.
const warmestAmbient = 60.0

// doubtAmbient names an ambient that no switchroom or site has.
func (in Input) doubtAmbient(key string) []Doubt {
	a, ok := in.Answers[key]
	if !ok || a.Value >= coldest && a.Value <= warmestAmbient {
		return nil
	}
	return []Doubt{{[]string{key}, Say("no-ambient", Num("read", a.Value, "°C"), Num("coldest", coldest, "°C"), Num("warmest", warmestAmbient, "°C"))}}
}
