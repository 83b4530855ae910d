package checks

import (
	"fmt"
	"math"
	"reflect"
	"slices"

	"handback/checks/plan"
	"handback/checks/quantity"
)

// Objection is why an instrument does not do: as a finding says it, and in words for an
// error of the plan. The zero objection is none.
type Objection struct {
	Said
	Text string
}

func Objecting(code, text string, args ...Arg) Objection {
	return Objection{Say(code, append(args, Shown("why", text))...), text}
}

// Unproving says why a thing cannot prove a voltage tester on a system of the given
// line-to-line volts; nothing when nothing speaks against it. A proving unit of an LV
// tester gives volts to earth, U/√3; above 1 kV it is made for systems by their
// nominal volts.
func Unproving(m *plan.Meter, system float64) Objection {
	switch sort := m.SortOf(); sort {
	case "":
		return Objection{}
	case plan.ProvingUnit, plan.KnownLivePoint:
	case "other":
		return Objecting("proves-no-tester", m.Name+" is neither a proving unit nor a known live point; only these prove a tester", Word("instrument", m.ID), Word("sort", sort))
	default:
		return Objecting("proves-no-tester", m.Sorted("")+": only a proving unit or a known live point proves a tester", Word("instrument", m.ID), Word("sort", sort))
	}
	least := system
	if system <= plan.LVMost {
		least /= math.Sqrt(3)
	}
	low, high := m.Reach()
	if quantity.Above(low, system) || quantity.Below(high, least) {
		return Objecting("source-misses-system", fmt.Sprintf("%s reaches %s, which does not prove a tester for %s", m.Name, plan.ReachWords(low, high), quantity.Spell(system, "V")),
			Word("instrument", m.ID), Num("from", low, "V"), Num("to", high, "V"), Num("system", system, "V"))
	}
	return Objection{}
}

// BelowCategory says why a measurement category is too low for a place that asks
// for the least one given; nothing when it is not, or is not stated.
func BelowCategory(m *plan.Meter, least string) Objection {
	order := map[string]int{"II": 2, "III": 3, "IV": 4}
	if m.Category == "" || order[m.Category] >= order[least] {
		return Objection{}
	}
	return Objecting("category-below", fmt.Sprintf("%s is of measurement category %s: at least %s is wanted", m.Name, m.Category, least),
		Word("instrument", m.ID), Word("category", m.Category), Word("least", least))
}

// readsLiveVolts tells whether an instrument read volts of live LV conductors in a check
// that is taken neither dead nor live: more than is harmless, and no more than 1 kV.
func (w *Work) readsLiveVolts(meter Field) bool {
	if w.Check.Kind.Live || w.Check.Kind.Dead {
		return false
	}
	return slices.ContainsFunc(w.form, func(f Field) bool {
		x := math.Abs(w.Answers[f.Key].Value)
		return f.Meter == meter.Key && quantity.QuantityOf(f.Unit) == "voltage" && x > DeadMostAC && x <= plan.LVMost
	})
}

// placeVolts are the nominal line-to-line volts of the place where a check is
// taken, as far as its plan names them; NaN where it does not.
func (in Input) placeVolts() float64 {
	for _, f := range plan.FieldsOf(reflect.ValueOf(in.Check.Given).Elem()) {
		switch x := f.V.Interface().(type) {
		case quantity.Volt:
			if f.Name == "nominal" || f.Name == "system_voltage" {
				return float64(x)
			}
		case *quantity.Volt:
			if f.Name == "nominal" && x != nil {
				return float64(*x)
			}
		case string:
			if b := in.Plan.Board(x); f.Name == "board" && b != nil {
				return float64(b.Nominal)
			}
		}
	}
	return math.NaN()
}

// held are the sorts that a person holds to live conductors; what hangs on a sensor
// or stands in a panel needs no category of its own.
var held = []string{"", "other", plan.VoltageDetector, "multimeter", "clamp", "phase-rotation indicator", "insulation tester", "resistance meter"}

// category judges the measurement category of an instrument that is used on live
// conductors of low voltage: III at least, where the plan of its check names none
// (IEC 61010-1). One that states none is a caution.
func (w *Work) category(f Field, m *plan.Meter) {
	live := w.Check.Kind.Live && !w.Check.Kind.Proves
	if !live && !w.readsLiveVolts(f) || !slices.Contains(held, m.SortOf()) || w.placeVolts() > plan.LVMost {
		return
	}
	if len(m.Ranges) > 0 && !m.Measures("voltage") && !m.Measures("current") {
		return
	}
	if why := BelowCategory(m, "III"); !why.None() {
		w.Say(Fail, f.Key, "category-low", Inner("why", why.Said))
	} else if live && m.Category == "" {
		w.Caution("category-unstated", Word("instrument", m.Name))
	}
}

// sees fails an instrument that no reading names, such as a rotation indicator or
// the tester of lamps, where its sort shows nothing of live conductors.
func (w *Work) sees(f Field, m *plan.Meter) {
	if !w.Check.Kind.Live || f.Key == "source" || slices.ContainsFunc(w.form, func(g Field) bool { return g.Meter == f.Key }) {
		return
	}
	if of, known := plan.SortReads(m.SortOf()); known && !slices.Contains(of, "voltage") && !slices.Contains(of, "current") {
		w.Say(Fail, f.Key, "shows-nothing-live", Word("instrument", m.Name), Word("sort", m.SortOf()))
	}
}

const DeadMostAC = 50.0 // V, above it a.c. may hurt: the limit of extra-low voltage, IEC 61140

// The keys of the questions that a plan's function_check adds to a form.
const (
	triedBefore = "tried_before"
	triedAfter  = "tried_after"
)

// tried adds to a form the trial of its first instrument on a known source: before
// the readings, right after the instrument is named, and after the last of them.
func tried(form []Field) []Field {
	at := slices.IndexFunc(form, func(f Field) bool { return f.Sort == MeterUsed })
	if at < 0 {
		return form
	}
	ask := func(key, when string) Field {
		return Field{Key: key, Label: form[at].Label + " read right on a known source " + when, Sort: Choice, Options: YesNo, Need: true,
			Hint: "a self-test does not test the measuring circuit and its leads", Example: "yes"}
	}
	out := slices.Insert(slices.Clone(form), at+1, ask(triedBefore, "before the readings"))
	return append(out, ask(triedAfter, "after the readings"))
}

// functionCheck makes the finding void when the instrument did not read right on a
// known source before or after the readings: nothing it showed between counts.
func (w *Work) functionCheck() {
	if !w.Check.Tried {
		return
	}
	defer func() { w.judged = 0 }() // a sound instrument alone shows nothing of the plant
	for _, t := range []struct{ key, when string }{{triedBefore, "before"}, {triedAfter, "after"}} {
		switch {
		case !w.Has(t.key):
		case w.Word(t.key) == "yes":
			w.Want(WordIs(t.key, "yes").Or(Void, "no"), "tried", Word("when", t.when))
		default:
			w.Want(WordIs(t.key, "yes").Or(Void, "no"), "tried-wrong", Word("when", t.when))
		}
	}
}
