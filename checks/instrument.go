package checks

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
)

// instrumentSort is what an instrument is in the words of the trade, with the
// quantities one of that sort may read where the plan gives it no ranges. A nil
// list means that any quantity is possible.
type instrumentSort struct {
	name  string
	words []string // in an instrument's name, lower case, they tell its sort
	of    []string
}

// The sorts that a judgement asks for by name.
const (
	voltageDetector = "voltage detector"
	provingUnit     = "proving unit"
	knownLivePoint  = "known live point"
)

// electrical are the quantities that meters for conductors read.
var electrical = []string{"voltage", "current", "resistance", "frequency", "power", "apparent power", "share", "angle", "number", "duration"}

// instrumentSorts stand in the order in which the words of a name are looked for:
// a proving unit for detectors is a proving unit.
var instrumentSorts = []instrumentSort{
	{provingUnit, []string{"proving unit", "proving source", "proving device", "proving set", "prover", "voltage source", "test source", "hv source", "lv source"}, []string{}},
	{knownLivePoint, []string{"live point", "live source", "known source", "known live"}, []string{}},
	{"insulation tester", []string{"insulation"}, []string{"resistance", "voltage", "current", "duration", "number"}},
	{"thermometer", []string{"thermometer", "thermal", "infrared", "temperature", "thermocouple", "pyrometer"}, []string{"temperature"}},
	{voltageDetector, []string{"detector", "two-pole", "two pole", "voltage tester", "voltage indicator", "test lamp"}, []string{"voltage", "frequency", "resistance"}},
	{"torque tool", []string{"torque", "wrench", "spanner"}, []string{"torque", "angle"}},
	{"phase-rotation indicator", []string{"rotation", "phase sequence", "phase-sequence"}, []string{"voltage", "frequency", "angle"}},
	{"ratio meter", []string{"ratio meter", "ratio-meter", "ratio tester", "turns ratio", "ratio bridge"}, []string{"number", "voltage", "current", "angle", "share"}},
	{"clamp", []string{"clamp", "tongs"}, electrical},
	{"multimeter", []string{"multimeter"}, append([]string{"temperature"}, electrical...)},
	{"panel meter", []string{"panel", "switchboard meter"}, nil},
	{"resistance meter", []string{"ohm", "resistance"}, []string{"resistance", "current", "temperature"}},
	{"other", nil, nil},
}

// sortOf is what the instrument is: as the plan says, else as the one quantity of
// its ranges, its name or id, or its rated volts tell; "" when nothing does.
func (m *Meter) sortOf() string {
	if m.Sort != "" {
		return m.Sort
	}
	if len(m.Ranges) > 0 && !slices.ContainsFunc(m.Ranges, func(r Range) bool { return r.To.Of != m.Ranges[0].To.Of }) {
		switch m.Ranges[0].To.Of {
		case "torque":
			return "torque tool"
		case "temperature":
			return "thermometer"
		}
	}
	for _, text := range []string{m.Name, m.ID} {
		text = strings.ToLower(text)
		for _, s := range instrumentSorts {
			if slices.ContainsFunc(s.words, func(word string) bool { return strings.Contains(text, word) }) {
				return s.name
			}
		}
	}
	switch {
	case len(m.Ranges) == 0 && strings.HasPrefix(m.ID, "prov"):
		return provingUnit
	case m.LowRating != nil && m.HighRating != nil:
		return voltageDetector
	case len(m.Ranges) > 0: // what measures is a meter of some sort
		return "other"
	}
	return ""
}

// sortReads are the quantities that a sort of instrument may read; ok is false
// where any is possible.
func sortReads(sort string) (of []string, ok bool) {
	i := slices.IndexFunc(instrumentSorts, func(s instrumentSort) bool { return s.name == sort })
	if i < 0 || instrumentSorts[i].of == nil {
		return nil, false
	}
	return instrumentSorts[i].of, true
}

// canRead tells whether the instrument may read a quantity: one of its ranges does,
// or it states none and nothing of its sort speaks against it.
func (m *Meter) canRead(of string) bool {
	if len(m.Ranges) > 0 {
		return m.measures(of)
	}
	reads, known := sortReads(m.sortOf())
	return !known || slices.Contains(reads, of)
}

// unreadable says why an instrument cannot read a quantity, "" when it may.
func (m *Meter) unreadable(of string) string {
	switch {
	case m.canRead(of):
		return ""
	case len(m.Ranges) > 0:
		return fmt.Sprintf("%s has no range that reads %s", m.Name, withArticle(of))
	}
	return fmt.Sprintf("%s is %s, which reads no %s", m.Name, withArticle(m.sortOf()), of)
}

// needReads demands that a planned instrument may read a quantity.
func needReads(p *Plan, key, id, of string, say sayFunc) {
	if m := p.Meter(id); m != nil {
		if why := m.unreadable(of); why != "" {
			say(key, "%s", why)
		}
	}
}

// instrument finds the instrument of the plan that typed names whole: by its id,
// or by the serial number on its label where one instrument alone has that.
func (p *Plan) instrument(typed string) (id string, err error) {
	id, err = whole(typed, idsOf(p.Meters, func(m Meter) string { return m.ID }))
	if err == nil {
		return id, nil
	}
	for i := range p.Meters {
		if !strings.EqualFold(p.Meters[i].Serial, typed) {
			continue
		}
		if id != "" {
			return "", fmt.Errorf("%w; more than one has that serial number", err)
		}
		id = p.Meters[i].ID
	}
	if id == "" {
		return "", err
	}
	return id, nil
}

// sameThing tells whether two entries of the plan are one instrument: what has one
// serial number is one thing, whatever it is called.
func (m *Meter) sameThing(n *Meter) bool {
	plain := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), "")) }
	return m.ID == n.ID || plain(m.Serial) == plain(n.Serial)
}

// objection is why an instrument does not do: as a finding says it, and in words for an
// error of the plan. The zero objection is none.
type objection struct {
	Said
	text string
}

func objecting(code, text string, args ...Arg) objection {
	return objection{Say(code, append(args, Shown("why", text))...), text}
}

// unproving says why a thing cannot prove a voltage tester on a system of the given
// line-to-line volts; nothing when nothing speaks against it. A proving unit of an LV
// tester gives volts to earth, U/√3; above 1 kV it is made for systems by their
// nominal volts.
func (m *Meter) unproving(system float64) objection {
	switch sort := m.sortOf(); sort {
	case "":
		return objection{}
	case provingUnit, knownLivePoint:
	case "other":
		return objecting("proves-no-tester", m.Name+" is neither a proving unit nor a known live point; only these prove a tester", Word("instrument", m.ID), Word("sort", sort))
	default:
		return objecting("proves-no-tester", fmt.Sprintf("%s is %s: only a proving unit or a known live point proves a tester", m.Name, withArticle(sort)), Word("instrument", m.ID), Word("sort", sort))
	}
	least := system
	if system <= lvMost {
		least /= math.Sqrt(3)
	}
	low, high := m.reach()
	if low > system*(1+slack) || high < least*(1-slack) {
		return objecting("source-misses-system", fmt.Sprintf("%s reaches %s, which does not prove a tester for %s", m.Name, reachWords(low, high), spell(system, "V")),
			Word("instrument", m.ID), Num("from", low, "V"), Num("to", high, "V"), Num("system", system, "V"))
	}
	return objection{}
}

// proves tells whether it is stated, or told by its name, that a thing proves testers.
func (m *Meter) proves() bool { s := m.sortOf(); return s == provingUnit || s == knownLivePoint }

// reach are the least and greatest volts that a proving source states; NaN where
// it states none.
func (m *Meter) reach() (low, high float64) {
	low, high = orNaN(m.LowRating), orNaN(m.HighRating)
	if m.HighRating == nil {
		for _, r := range m.Ranges {
			if r.To.Of == "voltage" && !(high > r.To.Value) {
				high = r.To.Value
			}
		}
	}
	return low, high
}

func reachWords(low, high float64) string {
	switch {
	case math.IsNaN(low):
		return "up to " + spell(high, "V")
	case math.IsNaN(high):
		return "from " + spell(low, "V")
	}
	return spell(low, "V") + " to " + spell(high, "V")
}

// lvMost is the greatest nominal volts of low voltage, and of what measurement
// categories are for: 1000 V a.c. (IEC 61010-1, IEC 60038).
const lvMost = 1000.0

// belowCategory says why a measurement category is too low for a place that asks
// for the least one given; nothing when it is not, or is not stated.
func (m *Meter) belowCategory(least string) objection {
	order := map[string]int{"II": 2, "III": 3, "IV": 4}
	if m.Category == "" || order[m.Category] >= order[least] {
		return objection{}
	}
	return objecting("category-below", fmt.Sprintf("%s is of measurement category %s: at least %s is wanted", m.Name, m.Category, least),
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
		return f.Meter == meter.Key && QuantityOf(f.Unit) == "voltage" && x > deadMostAC && x <= lvMost
	})
}

// placeVolts are the nominal line-to-line volts of the place where a check is
// taken, as far as its plan names them; NaN where it does not.
func (in Input) placeVolts() float64 {
	if in.Check.Given == nil {
		return math.NaN()
	}
	for _, f := range fieldsOf(reflect.ValueOf(in.Check.Given).Elem()) {
		switch x := f.v.Interface().(type) {
		case Volt:
			if f.name == "nominal" || f.name == "system_voltage" {
				return float64(x)
			}
		case *Volt:
			if f.name == "nominal" && x != nil {
				return float64(*x)
			}
		case string:
			if b := in.Plan.Board(x); f.name == "board" && b != nil {
				return float64(b.Nominal)
			}
		}
	}
	return math.NaN()
}

// held are the sorts that a person holds to live conductors; what hangs on a sensor
// or stands in a panel needs no category of its own.
var held = []string{"", "other", voltageDetector, "multimeter", "clamp", "phase-rotation indicator", "insulation tester", "resistance meter"}

// category judges the measurement category of an instrument that is used on live
// conductors of low voltage: III at least, where the plan of its check names none
// (IEC 61010-1). One that states none is a caution.
func (w *Work) category(f Field, m *Meter) {
	live := w.Check.Kind.Live && !w.Check.Kind.Proves
	if !live && !w.readsLiveVolts(f) || !slices.Contains(held, m.sortOf()) || w.placeVolts() > lvMost {
		return
	}
	if len(m.Ranges) > 0 && !m.measures("voltage") && !m.measures("current") {
		return
	}
	if why := m.belowCategory("III"); !why.None() {
		w.Say(Fail, f.Key, "category-low", Inner("why", why.Said))
	} else if live && m.Category == "" {
		w.Caution("category-unstated", Word("instrument", m.Name))
	}
}

// sees fails an instrument that no reading names, such as a rotation indicator or
// the tester of lamps, where its sort shows nothing of live conductors.
func (w *Work) sees(f Field, m *Meter) {
	if !w.Check.Kind.Live || f.Key == "source" || slices.ContainsFunc(w.form, func(g Field) bool { return g.Meter == f.Key }) {
		return
	}
	if of, known := sortReads(m.sortOf()); known && !slices.Contains(of, "voltage") && !slices.Contains(of, "current") {
		w.Say(Fail, f.Key, "shows-nothing-live", Word("instrument", m.Name), Word("sort", m.sortOf()))
	}
}
