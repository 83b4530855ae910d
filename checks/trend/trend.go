package trend

import (
	"math"
	"slices"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
)

// Value is what one job found.
type Value struct {
	At        time.Time
	X         float64
	Standard  float64 // standard uncertainty u; NaN when not known
	U         float64 // expanded uncertainty that it was judged with; likewise
	Bound     string  // ">" or "<" where only a bound is known
	Low, High float64 // limits it was judged by; NaN on a side without one
	Verdict   checks.Verdict
	Job       string
	Serial    string // of the instrument it was read with; "" when not known, or several
	Lapsed    bool   // it does not count in its job any longer
}

// Series are the values of one check and key of one plant, oldest first.
type Series struct {
	Name, Unit string
	Values     []Value
	Base       *Baseline // the newest there is
}

// Baseline is what the value was by the factory's sheet, or by an earlier record.
type Baseline struct {
	X      float64
	Source string
	Date   time.Time
}

// Change is how far the newest value is from an earlier one. U is NaN where the
// uncertainty of either is not known.
type Change struct {
	Was, By, U float64
	Clear      bool // By is beyond U
	Source     string
	Date       time.Time
}

// Trend is what a series tells.
type Trend struct {
	Series
	Used       []int   // places of the values that the line goes through
	Dates      int     // different days of these
	PerYear, U float64 // drift with its expanded uncertainty, in the unit a year; NaN when not known
	Drifts     bool    // the drift is beyond its uncertainty
	Birge      float64 // √(χ²/(n−2)), how many times their u the values lie off the line; NaN when not known
	ByChance   float64 // chance of lying so far off or farther by their u alone; NaN when not known
	SinceFirst *Change // nil with fewer than two values
	SinceBase  *Change // nil without a baseline
	Reach      Reach
	Says       []checks.Said // all this, and what it rests on

	line  line
	bent  bool      // a bent line fits clearly better
	start time.Time // where the line counts its years from
}

// Reach is when the line comes to the limit.
type Reach struct {
	OK             bool
	Limit          float64     // NaN where there is none that way
	When, From, To time.Time   // To is zero where it is farther on than the values carry
	Why            checks.Said // why there is no date; what is said of it where there is one
}

const year = 8766 * time.Hour // 365.25 days

// Of works out what a series tells at a time. A line goes through all values but those
// that are known as a bound, were void or do not count any longer; it takes two of them on
// different days. u of each value is of the value as it was worked out, its own instruments'
// errors in it.
func Of(s Series, now time.Time) Trend {
	t := Trend{Series: s, PerYear: math.NaN(), U: math.NaN(), Birge: math.NaN(), ByChance: math.NaN(), Reach: Reach{Limit: math.NaN()}}
	t.choose()
	t.changes()
	if len(t.Used) > 1 && t.Dates > 1 {
		t.drift()
	} else {
		t.say("no-drift", checks.Num("values", float64(len(t.Used)), ""), checks.Num("days", float64(t.Dates), ""))
	}
	t.reach(now)
	t.Says = append(t.Says, t.Reach.Why)
	return t
}

func (t *Trend) say(code string, args ...checks.Arg) {
	t.Says = append(t.Says, checks.Say(code, args...))
}

// choose finds the values that a line may go through, and says which it may not.
func (t *Trend) choose() {
	var out, days []string
	for i, v := range t.Values {
		if v.Bound != "" || v.Lapsed || v.Verdict == checks.Void || !quantity.Finite(v.X) {
			out = append(out, v.Job)
			continue
		}
		t.Used = append(t.Used, i)
		if day := v.At.UTC().Format(time.DateOnly); !slices.Contains(days, day) {
			days = append(days, day)
		}
	}
	t.Dates = len(days)
	if len(out) > 0 {
		t.say("left-out", checks.WordList("jobs", out...))
	}
}

// first and newest are those of the values used.
func (t *Trend) first() Value  { return t.Values[t.Used[0]] }
func (t *Trend) newest() Value { return t.Values[t.Used[len(t.Used)-1]] }

// changes tell how far the newest value is from the first and from the baseline:
//
//	by = x − x1   U = 2·√(u² + u1²), or from a baseline the U of x
//
// The errors of the two are taken as independent: what one instrument always reads too high
// cancels, and the change is known better than that. A baseline is exact (our choice, as
// where a check judges by it).
func (t *Trend) changes() {
	if len(t.Used) == 0 {
		return
	}
	x := t.newest()
	change := func(was, u float64, source string, date time.Time) *Change {
		c := Change{Was: was, By: x.X - was, U: u, Source: source, Date: date}
		c.Clear = math.Abs(c.By) > c.U
		return &c
	}
	if first := t.first(); len(t.Used) > 1 {
		t.SinceFirst = change(first.X, 2*math.Hypot(x.Standard, first.Standard), first.Job, first.At)
		t.say(t.SinceFirst.code("first-unknown", "first-changed", "first-same"), t.SinceFirst.args(t.Unit)...)
	}
	if b := t.Base; b != nil {
		t.SinceBase = change(b.X, x.U, b.Source, b.Date)
		t.say(t.SinceBase.code("base-unknown", "base-changed", "base-same"), t.SinceBase.args(t.Unit)...)
	}
}

func (c *Change) code(unknown, changed, same string) string {
	switch {
	case math.IsNaN(c.U):
		return unknown
	case c.Clear:
		return changed
	}
	return same
}

func (c *Change) args(unit string) []checks.Arg {
	return append(by("by", c.By, c.U, unit, "above", "below"), checks.Num("was", c.Was, unit), checks.Word("source", c.Source), checks.Word("date", c.Date.Format(time.DateOnly)))
}

// by is a difference without its sign, with its uncertainty as far as that is known, and the
// way it goes.
func by(name string, x, u float64, unit, up, down string) []checks.Arg {
	way := up
	if x < 0 {
		way = down
	}
	return []checks.Arg{checks.Word("way", way), checks.OfValue(name, checks.Derived{Key: name, Value: math.Abs(x), Unit: unit, Spread: calc.Spread{U: u}})}
}

// drift fits the line and tells what it shows.
func (t *Trend) drift() {
	var at, x, u []float64
	var serials []string
	t.start = t.first().At
	for _, i := range t.Used {
		v := t.Values[i]
		at, x, u, serials = append(at, t.years(v.At)), append(x, v.X), append(u, v.Standard), append(serials, v.Serial)
	}
	t.line = fitLine(at, x, u, serials)
	t.PerYear, t.U = t.line.slope, t.line.slopeOff()
	t.Drifts = math.Abs(t.PerYear) > t.U
	switch args := by("drift", t.PerYear, t.U, t.Unit, "rises", "falls"); {
	case math.IsNaN(t.U):
		t.say("drift-unknown", args...)
	case t.Drifts:
		t.say("drift", args...)
	default:
		t.say("drift-none", args...)
	}
	t.rests(serials)
	t.fits()
	if t.bent = t.line.bends(at, x, u); t.bent {
		t.say("bends")
	}
}

// rests says what is assumed of the errors.
func (t *Trend) rests(serials []string) {
	slices.Sort(serials)
	serials = slices.DeleteFunc(slices.Compact(serials), func(s string) bool { return s == "" })
	switch {
	case !t.line.weighted:
		t.say("errors-unknown")
	case len(serials) == 1 && !slices.ContainsFunc(t.Used, func(i int) bool { return t.Values[i].Serial == "" }):
		t.say("errors-one", checks.Word("serial", serials[0]))
	default:
		t.say("errors-several", checks.WordList("serials", serials...))
	}
}

// lackChance is under what chance the values are told to lie farther off the line than
// their uncertainty explains (our choice, as common as any).
const lackChance = 0.05

// fits tells how well the line fits (R. T. Birge, The calculation of errors by the method of
// least squares, Phys. Rev. 40 (1932), 207).
func (t *Trend) fits() {
	n := t.line.n - 2
	if n < 1 || !t.line.weighted {
		return
	}
	t.Birge, t.ByChance = math.Sqrt(t.line.chi2/float64(n)), chiAbove(t.line.chi2, n)
	code := "fits"
	if t.ByChance < lackChance {
		code = "fits-badly"
	}
	t.say(code, checks.Num("birge", t.Birge, ""), checks.Num("chance", 100*t.ByChance, "%"))
}

func (t *Trend) years(at time.Time) float64 { return float64(at.Sub(t.start)) / float64(year) }

func (t *Trend) date(years float64) time.Time {
	return t.start.AddDate(0, 0, int(math.Round(years*365.25)))
}

// Line is the line at a time with its expanded uncertainty; ok is false without one.
func (t *Trend) Line(at time.Time) (x, u float64, ok bool) {
	if t.line.n == 0 {
		return 0, 0, false
	}
	return t.line.value(t.years(at)), t.line.off(t.years(at)), true
}
