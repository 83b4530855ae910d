package checks

import (
	"slices"

	"handback/checks/calc"
	"handback/checks/quantity"
)

// bounds are the smallest and the largest number a quantity is ever read as, in its
// base unit.
var bounds = map[string][2]float64{
	"voltage": {-1e6, 1e6}, "current": {-1e6, 1e6}, "frequency": {0, 1e5}, "apparent power": {0, 1e10}, "power": {-1e10, 1e10},
	"resistance": {0, 1e15}, "torque": {0, 1e6}, "temperature": {quantity.AbsoluteZero, 2000}, "duration": {0, 1e9}, "length": {0, 1e6},
	"reactive power": {-1e10, 1e10}, "capacitance": {0, 1e9}, "pressure": {-1e6, 1e6}, "force": {-1e9, 1e9}, "rotational speed": {-1e6, 1e6}, "speed": {-1e4, 1e4},
	"flow": {-1e9, 1e9}, "illuminance": {0, 1e6}, "level": {-300, 300}, "concentration": {0, 1e6},
	"share": {-1e5, 1e5}, "angle": {-360, 360}, "number": {-1e9, 1e9},
}

// magnitudes are what is not below zero on live plant of alternating current, with the
// code that says so.
var magnitudes = map[string]string{"voltage": "volts-below-zero", "current": "current-below-zero"}

// impossible names numbers that no instrument reads off any plant: beyond the bounds
// of their quantity, and volts and amperes below zero in a check of live plant.
func (in Input) impossible(form []Field) []Doubt {
	var out []Doubt
	for _, f := range form {
		a, ok := in.Answers[f.Key]
		if !ok || f.Sort != Measured {
			continue
		}
		of := quantity.QuantityOf(f.Unit)
		b := bounds[of]
		least := 0.0
		if in.Check.Kind.Proves {
			least = -LeastLive // dead plant may leave a volt of direct current
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

// NotYetDoubted leaves out doubts of readings that others name already.
func NotYetDoubted(doubts, named []Doubt) []Doubt {
	inDoubt := Doubted(named)
	return slices.DeleteFunc(doubts, func(d Doubt) bool { return slices.ContainsFunc(d.Fields, inDoubt) })
}

// LeastLive is the volts under which nothing is live where the plan tells no nominal
// volts: the highest dead threshold for alternating current (our choice).
const LeastLive = 50.0

// doubts turns a finding with impossible readings into inconclusive; a failure
// that a doubted reading brought is not a failure shown, one that rests on other
// readings alone still is. What makes the finding void by the same words is not said again.
func (w *Work) doubts() {
	doubts := w.Doubts()
	if len(doubts) == 0 {
		return
	}
	inDoubt := Doubted(doubts)
	if w.found.Stop.None() {
		for i, r := range w.found.Reasons {
			if w.rests[i] != nil && !slices.ContainsFunc(w.rests[i], inDoubt) {
				continue
			}
			w.found.Bases[i].Doubted = true
			w.found.Reasons[i].Verdict = chosen(WithoutFailure(), func(string) calc.Content { return calc.Content{Word: r.Verdict.Shown()} })
		}
	}
	for _, d := range doubts {
		said := d.Said
		void := slices.ContainsFunc(w.found.Reasons, func(r Reason) bool { return r.Verdict == Void && r.Same(said) })
		for _, k := range d.Fields {
			if why := w.Answers[k].Kept; why != "" {
				said, void = Say("kept", Inner("doubt", said), Word("why", why)), false
				break
			}
		}
		if void {
			continue
		}
		w.SayOn(Inconclusive, d.Fields, d.Fields, said)
	}
}

// Doubts names the readings that cannot be right.
func (w *Work) Doubts() []Doubt {
	if w.doubted == nil {
		doubts := w.Input.doubts(w.form)
		w.doubted = &doubts
	}
	return *w.doubted
}

// Doubted tells which fields some of the doubts name.
func Doubted(doubts []Doubt) func(key string) bool {
	return func(key string) bool {
		return slices.ContainsFunc(doubts, func(d Doubt) bool { return slices.Contains(d.Fields, key) })
	}
}
