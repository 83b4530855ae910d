package calc

import (
	"math"
	"slices"

	"handback/checks/quantity"
)

// Knowledge is how much of a value's uncertainty is known, by its readings: counts
// and data of the plan are always known.
type Knowledge int

const (
	KnownNot   Knowledge = iota // the accuracy of none of its readings
	KnownPart                   // of some of its readings: a lower bound
	KnownWhole                  // of every reading
)

// Spread is how far a value may be off.
type Spread struct {
	Standard float64 // standard uncertainty u
	Most     float64 // the sum of the half-widths: no error is larger
	U        float64 // expanded uncertainty: 2u, and never more than Most
}

var UnknownSpread = Spread{math.NaN(), math.NaN(), math.NaN()}

// noise is the part of a value under which an uncertainty is the rounding of the
// computer and no error of an instrument.
const noise = 1e-10

// Budget is what the uncertainty of a value is made of, a contribution a line, so that
// a colleague redoes it with a calculator (JCGM 100:2008, 5.1.2 and annex H):
//
//	change  = |c|·a, how far the half-width a of an input takes the value
//	u²      = Σ_groups h²/3      h = G + max(O, √Σo²) + √Σs²
//	U       = min(2u, Σ_groups (G + max(O, Σo) + Σs))
//
// over the changes of a group:
//
//	group  the readings of one quantity by one instrument in one range
//	G      GainError: they all move together by their share of the reading. It is
//	       common to them (JCGM 100:2008 F.1.2.3), so the difference of two readings
//	       in one range is known far better than either; ranges err by themselves
//	O, o   RangeError, BendError: they all move together by the error of their range,
//	       and one of them does alone. The scale may stand off as a whole or bend in
//	       between, so the worse of both counts (our choice)
//	s      DigitError: one reading alone moves by the error of its digits
//
// The parts of a group are added as the maker adds them, so a single reading has the
// maker's limit of error as its half-width, rectangular: u = a/√3 (JCGM 100:2008
// 4.3.7), and U = a and not 2a/√3, as no error is larger than a. A value of the plan
// that lies between two others (see Uncertain) is a group of its own: DatumError,
// which counts as s.
type Budget struct {
	Groups   []ErrorGroup
	Unstated []string // labels of readings whose accuracy is not stated: they are not in it
}

// ErrorGroup is what errs by itself: readings of one quantity by one instrument in one
// range, or one datum.
type ErrorGroup struct {
	Meter, Of     string  // "" of a datum
	Top           float64 // of the range
	Contributions []Contribution
}

// Contribution is a line of a budget.
type Contribution struct {
	Sort        ErrorSort
	Label, Unit string  // of the one reading or datum; "" where those of a group move together
	Estimate    float64 // its value, in its base unit; 0 of what is common
	Half        float64 // half-width a: per cent of a GainError, else in the base unit; the largest where they differ
	Change      float64 // |c|·a, the larger of up and down; NaN when neither can be worked out
}

// ErrorSort tells what moves by what.
type ErrorSort int

const (
	GainError  ErrorSort = iota // all readings of a range, each by its share of the reading
	RangeError                  // all readings of a range by the error of the range
	BendError                   // one reading by the error of the range
	DigitError                  // one reading by the error of its digits
	DatumError                  // a datum to where it may lie
)

// Sensitivity is |c|, how far the value goes for one unit of the input: the secant over
// the half-width, on the side that takes it further (JCGM 100:2008, 5.1.3 note 2).
func (c Contribution) Sensitivity() float64 { return c.Change / c.Half }

// StandardError is u(x) of the input, taken as rectangular: a/√3 (JCGM 100:2008, 4.3.7).
func (c Contribution) StandardError() float64 { return c.Half / math.Sqrt(3) }

// Share is what the input brings to u: |c|·u(x).
func (c Contribution) Share() float64 { return c.Change / math.Sqrt(3) }

// Spread adds a budget up to the uncertainty of a value.
func (b Budget) Spread(value float64) Spread {
	squares := 0.0
	s := Spread{}
	for _, g := range b.Groups {
		half, most := g.halfWidth()
		squares += Square(half)
		s.Most += most
	}
	s.Standard = math.Sqrt(squares / 3)
	s.U = math.Min(2*s.Standard, s.Most)
	if s.U <= noise*math.Abs(value) {
		s = Spread{}
	}
	return s
}

// halfWidth is how far a group takes the value, and how far at the very most.
func (g ErrorGroup) halfWidth() (half, most float64) {
	var sum, squares [DatumError + 1]float64
	for _, c := range g.Contributions {
		sum[c.Sort] += c.Change
		squares[c.Sort] += Square(c.Change)
	}
	alone := math.Sqrt(squares[DigitError] + squares[DatumError])
	return sum[GainError] + math.Max(sum[RangeError], math.Sqrt(squares[BendError])) + alone,
		sum[GainError] + math.Max(sum[RangeError], sum[BendError]) + sum[DigitError] + sum[DatumError]
}

// Readings are what computations rest on, by key, with where each one's error comes from.
type Readings map[string]Source

// At is what was read, NaN for what was not.
func (r Readings) At(key string) float64 {
	if s, ok := r[key]; ok {
		return s.Value
	}
	return math.NaN()
}

// Budget works out what every error brings to a value, in the order of the readings, and
// how much of the accuracy is known. It is empty when none is.
func (r Readings) Budget(w *Worked) (b Budget, known Knowledge) {
	var groups []readGroup
	not, stated := 0, 0
	for _, k := range w.readings() {
		s := r[k]
		switch {
		case s.Exact:
			continue
		case !s.Known:
			not++
			b.Unstated = append(b.Unstated, s.Label)
		}
		if s.Known || s.Step != 0 {
			stated++
		}
		groups = s.addTo(groups, k)
	}
	switch {
	case not == 0:
		known = KnownWhole
	case stated > 0:
		known = KnownPart
	default:
		return Budget{}, KnownNot
	}
	for _, g := range groups {
		if c := r.contributions(w, g); len(c) > 0 {
			b.Groups = append(b.Groups, ErrorGroup{g.Meter, g.Of, g.In[1], c})
		}
	}
	for _, u := range w.uncertain() {
		low, high := u.bounds()
		by := shift{u.key(), u.value, high - u.value, u.value - low}
		b.Groups = append(b.Groups, ErrorGroup{Contributions: []Contribution{
			{DatumError, u.label, u.unit, u.value, math.Max(by.up, by.down), w.move(by)}}})
	}
	return b, known
}

// readGroup is a group in the making: what its readings have in common, and their keys.
type readGroup struct {
	Source
	keys []string
}

// addTo adds a reading to its group.
func (s Source) addTo(groups []readGroup, key string) []readGroup {
	i := slices.IndexFunc(groups, func(g readGroup) bool { return g.Meter == s.Meter && g.Of == s.Of && g.In == s.In })
	if i < 0 {
		return append(groups, readGroup{s, []string{key}})
	}
	groups[i].keys = append(groups[i].keys, key)
	return groups
}

// contributions are those of a group: first what its readings have in common, then each
// reading's own. One reading alone in its range moves as all do.
func (r Readings) contributions(w *Worked, g readGroup) (out []Contribution) {
	var gains, spans, steps []shift
	share, span := 0.0, 0.0
	for _, k := range g.keys {
		s, x := r[k], w.at(k)
		share, span = math.Max(share, s.Share), math.Max(span, s.Span)
		if s.Share != 0 {
			gains = append(gains, evenly(k, x, s.Share/100*x))
		}
		if s.Span != 0 {
			spans = append(spans, evenly(k, x, s.Span))
		}
		if s.Step != 0 {
			steps = append(steps, evenly(k, x, s.Step))
		}
	}
	one := func(sort ErrorSort, s shift) Contribution {
		read := r[s.key]
		return Contribution{sort, read.Label, quantity.BaseUnit(read.Of), s.from, s.up, w.move(s)}
	}
	if len(gains) > 0 {
		out = append(out, Contribution{Sort: GainError, Unit: "%", Half: share, Change: w.move(gains...)})
	}
	if len(spans) > 0 {
		out = append(out, Contribution{Sort: RangeError, Unit: quantity.BaseUnit(g.Of), Half: span, Change: w.move(spans...)})
		if len(spans) > 1 {
			for _, s := range spans {
				out = append(out, one(BendError, s))
			}
		}
	}
	for _, s := range steps {
		out = append(out, one(DigitError, s))
	}
	return out
}

// shift is how far a reading or datum may be off, in its base unit.
type shift struct {
	key      string
	from     float64 // where it stands
	up, down float64
}

// evenly is a shift of the same size up and down.
func evenly(key string, x, by float64) shift { return shift{key, x, by, by} }

func Square(x float64) float64 { return float64(x * x) }

// move is how far the value goes when the named readings shift by the given amounts, up
// or down: where one way leads out of its domain (an arc cosine of more than 1),
// the other tells. NaN when neither does.
func (w *Worked) move(by ...shift) float64 {
	up, down := math.Abs(w.Value()-w.shifted(by, 1)), math.Abs(w.Value()-w.shifted(by, -1))
	switch {
	case math.IsNaN(up):
		return down
	case math.IsNaN(down):
		return up
	}
	return math.Max(up, down)
}

// moved gives readings moved by their errors, up (1) or down (-1).
func moved(at func(key string) float64, by []shift, sign float64) func(key string) float64 {
	return func(key string) float64 {
		for _, s := range by {
			switch {
			case s.key != key:
			case sign > 0:
				return s.from + s.up
			default:
				return s.from - s.down
			}
		}
		return at(key)
	}
}

// Source is a reading with where its error comes from.
type Source struct {
	Label, Unit string // as its field has them
	Value       float64
	Meter, Of   string
	In          [2]float64 // the range it was read in: bottom and top
	Share, Span float64    // error: % of the reading, and that of the range
	Step        float64    // error of its own digits
	Known       bool
	Exact       bool // a count: no error
}
