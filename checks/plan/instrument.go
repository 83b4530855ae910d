package plan

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks/quantity"
)

// instrumentSort is what an instrument is in the words of the trade, with the
// quantities one of that sort may read where the plan gives it no ranges. A nil
// list means that any quantity is possible.
type instrumentSort struct {
	Name  string
	words []string // in an instrument's name, lower case, they tell its sort
	of    []string
}

// The sorts that a judgement asks for by name.
const (
	VoltageDetector = "voltage detector"
	ProvingUnit     = "proving unit"
	KnownLivePoint  = "known live point"
)

// electrical are the quantities that meters for conductors read.
var electrical = []string{"voltage", "current", "resistance", "frequency", "power", "apparent power", "reactive power", "capacitance", "share", "angle", "number", "duration"}

// instrumentSorts stand in the order in which the words of a name are looked for:
// a proving unit for detectors is a proving unit.
var instrumentSorts = []instrumentSort{
	{ProvingUnit, []string{"proving unit", "proving source", "proving device", "proving set", "prover", "voltage source", "test source", "hv source", "lv source"}, []string{}},
	{KnownLivePoint, []string{"live point", "live source", "known source", "known live"}, []string{}},
	{"insulation tester", []string{"insulation"}, []string{"resistance", "voltage", "current", "duration", "number"}},
	{"thermometer", []string{"thermometer", "thermal", "infrared", "temperature", "thermocouple", "pyrometer"}, []string{"temperature"}},
	{VoltageDetector, []string{"detector", "two-pole", "two pole", "voltage tester", "voltage indicator", "test lamp"}, []string{"voltage", "frequency", "resistance"}},
	{"torque tool", []string{"torque", "wrench", "spanner"}, []string{"torque", "angle"}},
	{"phase-rotation indicator", []string{"rotation", "phase sequence", "phase-sequence"}, []string{"voltage", "frequency", "angle"}},
	{"ratio meter", []string{"ratio meter", "ratio-meter", "ratio tester", "turns ratio", "ratio bridge"}, []string{"number", "voltage", "current", "angle", "share"}},
	{"clamp", []string{"clamp", "tongs"}, electrical},
	{"multimeter", []string{"multimeter"}, append([]string{"temperature"}, electrical...)},
	{"panel meter", []string{"panel", "switchboard meter"}, nil},
	{"resistance meter", []string{"ohm", "resistance"}, []string{"resistance", "current", "temperature"}},
	{"other", nil, nil},
}

// SortOf is what the instrument is: as the plan says, else as the one quantity of
// its ranges, its name or id, or its rated volts tell; "" when nothing does.
func (m *Meter) SortOf() string {
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
				return s.Name
			}
		}
	}
	switch {
	case len(m.Ranges) == 0 && strings.HasPrefix(m.ID, "prov"):
		return ProvingUnit
	case m.LowRating != nil && m.HighRating != nil:
		return VoltageDetector
	case len(m.Ranges) > 0: // what measures is a meter of some sort
		return "other"
	}
	return ""
}

// SortReads are the quantities that a sort of instrument may read; ok is false
// where any is possible.
func SortReads(sort string) (of []string, ok bool) {
	i := slices.IndexFunc(instrumentSorts, func(s instrumentSort) bool { return s.Name == sort })
	if i < 0 || instrumentSorts[i].of == nil {
		return nil, false
	}
	return instrumentSorts[i].of, true
}

// CanRead tells whether the instrument may read a quantity: one of its ranges does,
// or it states none and nothing of its sort speaks against it.
func (m *Meter) CanRead(of string) bool {
	if len(m.Ranges) > 0 {
		return m.Measures(of)
	}
	reads, known := SortReads(m.SortOf())
	return !known || slices.Contains(reads, of)
}

// Unreadable says why an instrument cannot read a quantity, "" when it may.
func (m *Meter) Unreadable(of string) string {
	switch {
	case m.CanRead(of):
		return ""
	case len(m.Ranges) > 0:
		return fmt.Sprintf("%s has no range that reads %s", m.Name, quantity.WithArticle(of))
	}
	return m.Sorted(", which") + " reads no " + of
}

// Sorted names an instrument with its sort, for a sentence that goes on after then: only
// by its name where that tells the sort already.
func (m *Meter) Sorted(then string) string {
	sort := m.SortOf()
	if strings.Contains(strings.ToLower(m.Name), sort) {
		return m.Name
	}
	return m.Name + " is " + quantity.WithArticle(sort) + then
}

// SameThing tells whether two entries of the plan are one instrument: what has one
// serial number is one thing, whatever it is called.
func (m *Meter) SameThing(n *Meter) bool { return m.ID == n.ID || SameSerial(m.Serial, n.Serial) }

// SameSerial tells whether two serial numbers are one, however they are typed.
func SameSerial(a, b string) bool { return PlainSerial(a) == PlainSerial(b) }

// PlainSerial is what serial numbers are compared by: small letters, and no blanks.
func PlainSerial(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), "")) }

// Proves tells whether it is stated, or told by its name, that a thing proves testers.
func (m *Meter) Proves() bool { s := m.SortOf(); return s == ProvingUnit || s == KnownLivePoint }

// Reach are the least and greatest volts that a proving source states; NaN where
// it states none.
func (m *Meter) Reach() (low, high float64) {
	low, high = quantity.OrNaN(m.LowRating), quantity.OrNaN(m.HighRating)
	if m.HighRating == nil {
		for _, r := range m.Ranges {
			if r.To.Of == "voltage" && !(high > r.To.Value) {
				high = r.To.Value
			}
		}
	}
	return low, high
}

// soon is how long before a calibration ends a plan's reader is told (our choice: as long
// as a calibration may take).
const soon = 30 * 24 * time.Hour

// Due tells of the instruments whose calibration has ended by a day, or ends soon after
// it, in the order of the plan. It refuses nothing: another may be typed at each check.
func (p *Plan) Due(on time.Time) Problems {
	var out Problems
	today := day(on)
	for i, m := range p.Meters {
		words := ""
		switch ends := day(m.Due); {
		case ends < today:
			words = "calibration ended: a later reading fails"
		case ends <= day(on.Add(soon)):
			words = "calibration ends soon: a later reading fails"
		default:
			continue
		}
		at := p.due[i]
		out = append(out, Problem{File: at.File, Line: at.Line, Col: at.Col, Path: fmt.Sprintf("instruments[%d].due", i+1),
			Cause: fmt.Sprintf("%s, %s, %s: %s", m.ID, m.Name, day(m.Due), words)})
	}
	return out
}

func ReachWords(low, high float64) string {
	switch {
	case math.IsNaN(low):
		return "up to " + quantity.Spell(high, "V")
	case math.IsNaN(high):
		return "from " + quantity.Spell(low, "V")
	}
	return quantity.Spell(low, "V") + " to " + quantity.Spell(high, "V")
}

// LVMost is the greatest nominal volts of low voltage, and of what measurement
// categories are for: 1000 V a.c. (IEC 61010-1, IEC 60038).
const LVMost = 1000.0
