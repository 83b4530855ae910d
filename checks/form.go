package checks

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"handback/checks/plan"
	"handback/checks/quantity"
)

// Sort is what a field takes.
type Sort int

const (
	Measured  Sort = iota + 1 // a number with a unit
	Choice                    // one of the field's options
	Words                     // free text
	Instant                   // a time of day, or a date with one
	Count                     // a whole number from 0
	MeterUsed                 // the id of an instrument of the plan
	Initials                  // the id of a person of the plan
)

var sortWords = map[Sort]string{Measured: "measured", Choice: "choice", Words: "words", Instant: "instant", Count: "count", MeterUsed: "instrument", Initials: "person"}

func (s Sort) String() string { return sortWords[s] }

// MarshalText writes the sort's word.
func (s Sort) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// YesNo are the options of a yes/no field.
var YesNo = []string{"yes", "no"}

// Field is one thing a check asks. Prompts, flags, sheet cells, import, tables
// and JSON all come from it.
type Field struct {
	Key     string   `json:"key"`
	Label   string   `json:"label"`
	Sort    Sort     `json:"sort"`
	Unit    string   `json:"unit,omitempty"`    // unit of Measured: shown, and assumed for a bare number
	Options []string `json:"options,omitempty"` // of Choice
	Need    bool     `json:"need"`
	Hint    string   `json:"hint,omitempty"`
	Example string   `json:"example"`
	Row     string   `json:"row,omitempty"`    // fields of one row may be typed on one line, in order
	Meter   string   `json:"meter,omitempty"`  // key of the MeterUsed field that read this
	Bounds  bool     `json:"bounds,omitempty"` // a bound such as ">2 GΩ" is an answer
	Default string   `json:"default,omitempty"`
	Expect  *Expect  `json:"expect,omitempty"`
	Wanted  string   `json:"wanted,omitempty"` // said in place of the numbers of Expect

	// Side is the limit of a field that is held on one side alone, in base units; Expect
	// holds both.
	Side *Limit `json:"-"`

	// Known says that there is nothing to ask: a recorded step tells it, or what was
	// answered decides without it. An answer given all the same counts.
	Known bool `json:"known,omitempty"`

	// Point names what is read where, the same for every check that reads it: a reading
	// taken there serves the next check too. "" for what is read for its check alone.
	Point string `json:"-"`
}

// Expect is what a field should read if all is well, in the field's base unit.
type Expect struct {
	Value  float64 `json:"value"`
	Low    float64 `json:"low"`
	High   float64 `json:"high"`
	Source string  `json:"source"`
}

// Answer is what was read or observed for one field.
type Answer struct {
	Typed string  `json:"typed"`           // as the person typed it
	Value float64 `json:"value,omitempty"` // base unit, of Measured and Count
	Unit  string  `json:"unit,omitempty"`  // base unit symbol, of Measured
	Bound string  `json:"bound,omitempty"` // ">" or "<"
	Word  string  `json:"word,omitempty"`  // the option, text or id; of Instant RFC 3339
	Kept  string  `json:"kept,omitempty"`  // why a reading that cannot be right was kept
	From  *Origin `json:"from,omitempty"`  // where it was read, when it was taken over from another check

	NotThere string `json:"not_there,omitempty"` // why what the field asks about does not exist; then nothing was read
}

// Origin is where a reading that serves a second check was read.
type Origin struct {
	Entry int    `json:"entry"`
	Check string `json:"check"`
	Field string `json:"field"`
	At    string `json:"at"` // RFC 3339
}

// Answers are the answers of one attempt, by field key.
type Answers map[string]Answer

// Have tells whether fields were answered.
func (a Answers) Have(keys ...string) bool {
	for _, k := range keys {
		if _, ok := a[k]; !ok {
			return false
		}
	}
	return true
}

// Time is the answer's instant, zero when it holds none.
func (a Answer) Time() time.Time {
	t, err := time.Parse(time.RFC3339, a.Word)
	if err != nil {
		return time.Time{}
	}
	return t
}

// Read is when an answer was read that was given at a moment: earlier where it was taken
// over from another check.
func (a Answer) Read(given time.Time) time.Time {
	if a.From == nil {
		return given
	}
	at, err := time.Parse(time.RFC3339, a.From.At)
	if err != nil || at.After(given) {
		return given
	}
	return at
}

// maxWords bounds free text so that it fits a sheet cell.
const maxWords = 2000

// ParseAnswer reads what was typed for a field. now is the moment of typing; it
// completes times of day and answers "now". The error says what was met and
// what is accepted; nothing is guessed.
func ParseAnswer(f Field, p *plan.Plan, typed string, now time.Time) (Answer, error) {
	a := Answer{Typed: strings.TrimSpace(typed)}
	if a.Typed == "" {
		return Answer{}, fmt.Errorf("%s: nothing was typed; %s is wanted", f.Key, f.Accepts())
	}
	if n := utf8.RuneCountInString(a.Typed); n > maxWords {
		return Answer{}, fmt.Errorf("%s: %d characters; at most %d are stored", f.Key, n, maxWords)
	}
	if err := plan.PlainText(a.Typed); err != nil {
		return Answer{}, fmt.Errorf("%s: %w", f.Key, err)
	}
	absent, err := a.absent(f)
	switch {
	case err != nil:
		return Answer{}, fmt.Errorf("%s: %w", f.Key, err)
	case absent:
		return a, nil
	}
	switch f.Sort {
	case Measured:
		err = a.measured(f)
	case Count:
		err = a.count()
	case Choice:
		a.Word, err = option(a.Typed, f.Options)
	case MeterUsed:
		a.Word, err = instrument(p, a.Typed)
	case Initials:
		a.Word, err = whole(a.Typed, plan.IDsOf(p.People, func(q plan.Person) string { return q.ID }))
	case Instant:
		var t time.Time
		t, err = parseInstant(a.Typed, now)
		a.Word = t.Format(time.RFC3339)
	case Words:
		a.Word = a.Typed
	default:
		panic("checks: field " + f.Key + " has no sort")
	}
	if err != nil {
		return Answer{}, fmt.Errorf("%s: %w", f.Key, err)
	}
	return a, nil
}

func (a *Answer) measured(f Field) error {
	q, err := quantity.ParseQuantity(a.Typed, quantity.QuantityOf(f.Unit), f.Unit)
	if err != nil && oneForMany(a.Typed) {
		return fmt.Errorf("%q: one reading for many is no reading: type what each one showed", a.Typed)
	}
	if err != nil {
		return err
	}
	if q.Bound != "" && !f.Bounds {
		return fmt.Errorf("%q is a bound; %s", a.Typed, f.Accepts())
	}
	a.Value, a.Bound, a.Unit = q.Value, q.Bound, quantity.BaseUnit(quantity.QuantityOf(f.Unit))
	return nil
}

// oneForMany tells words that give one reading to many: "all 45", "45 each", "12 x 45".
func oneForMany(typed string) bool {
	words := strings.FieldsFunc(strings.ToLower(typed), func(r rune) bool {
		return r != 'x' && r != '×' && r != '*' && !unicode.IsLetter(r)
	})
	return slices.ContainsFunc(words, func(w string) bool {
		return slices.Contains([]string{"all", "each", "every", "both", "same", "ditto", "rest", "others", "x", "×", "*"}, w)
	})
}

func (a *Answer) count() error {
	n, err := strconv.Atoi(a.Typed)
	if err != nil || n < 0 || n > 1e6 || strings.HasPrefix(a.Typed, "+") {
		return fmt.Errorf("%q: a whole number from 0 is wanted", a.Typed)
	}
	a.Value = float64(n)
	return nil
}

// whole finds the option that typed is, capitals aside: a stray letter names no
// instrument and nobody.
func whole(typed string, options []string) (string, error) {
	for _, o := range options {
		if strings.EqualFold(o, typed) {
			return o, nil
		}
	}
	return "", noOption(typed, options)
}

// option finds the one option that typed names or begins; capitals do not count.
func option(typed string, options []string) (string, error) {
	var hits []string
	for _, o := range options {
		if strings.EqualFold(o, typed) {
			return o, nil
		}
		if len(o) > len(typed) && strings.EqualFold(o[:len(typed)], typed) {
			hits = append(hits, o)
		}
	}
	if len(hits) == 1 {
		return hits[0], nil
	}
	return "", noOption(typed, options)
}

func noOption(typed string, options []string) error {
	if len(options) == 0 {
		return fmt.Errorf("%q: the plan names none to choose from", typed)
	}
	return fmt.Errorf("%q is not one of %s", typed, strings.Join(options, ", "))
}

// parseInstant reads "now", "14:05", "14:05:30" or RFC 3339. A time of day is
// the latest such moment not later than now, ten minutes of slack allowed: 23:58
// typed just after midnight is yesterday's, 00:03 typed just before is the next day's.
// One that came twice in the night the clocks were put back may be either and is
// refused, once both have come: an hour of real time hangs on it.
func parseInstant(typed string, now time.Time) (time.Time, error) {
	if strings.EqualFold(typed, "now") {
		return now.Truncate(time.Second), nil
	}
	if t, err := time.Parse(time.RFC3339, typed); err == nil {
		_, east := t.Zone()
		if t.Year() < 2000 || time.Duration(east)*time.Second > 14*time.Hour || time.Duration(east)*time.Second < -14*time.Hour {
			return time.Time{}, fmt.Errorf("%q: a year from 2000 and an offset of at most 14 hours are accepted", typed)
		}
		return t, nil
	}
	for _, layout := range []string{"15:04", "15:04:05"} {
		t, err := time.Parse(layout, typed)
		if err != nil {
			continue
		}
		return latest(t, now)
	}
	return time.Time{}, fmt.Errorf("%q is not a time: type now, 14:05, 14:05:30 or 2026-03-31T14:05:00+00:00", typed)
}

// latest is the latest moment at a time of day that is not later than now, with slack.
func latest(timeOfDay, now time.Time) (time.Time, error) {
	y, m, d := now.Date()
	for _, day := range []int{d + 1, d, d - 1} {
		date := time.Date(y, m, day, timeOfDay.Hour(), timeOfDay.Minute(), timeOfDay.Second(), 0, now.Location())
		moments := Moments(time.Date(y, m, day, 12, 0, 0, 0, now.Location()), timeOfDay, now.Location())
		came := slices.DeleteFunc(slices.Clone(moments), func(at time.Time) bool { return at.Sub(now) > clockSlack })
		switch {
		case len(came) > 1:
			return time.Time{}, ErrTwice(came)
		case len(came) == 1:
			return came[0], nil
		case len(moments) == 0 && date.Sub(now) <= clockSlack:
			return time.Time{}, ErrPassedOver(date, timeOfDay)
		}
	}
	return time.Time{}, fmt.Errorf("no %s came yesterday or today: give date and offset too, as in 2026-03-31T14:05:00+00:00", timeOfDay.Format("15:04"))
}

// Accepts says in words what the field takes.
func (f Field) Accepts() string {
	switch f.Sort {
	case Measured:
		s := fmt.Sprintf("%s in %s, such as %s", quantity.WithArticle(quantity.QuantityOf(f.Unit)), f.Unit, f.Example)
		if f.Bounds {
			s += ", or a bound such as >" + f.Example
		}
		return s
	case Choice:
		return "one of " + strings.Join(f.Options, ", ")
	case Instant:
		return "a time such as now or 14:05"
	case Count:
		return "a whole number such as " + f.Example
	case MeterUsed:
		return "the id of an instrument of the plan"
	case Initials:
		return "the id of a person of the plan"
	}
	return "some words"
}

// FieldNamed finds a field of a form by key.
func FieldNamed(form []Field, key string) (Field, bool) {
	for i := range form {
		if form[i].Key == key {
			return form[i], true
		}
	}
	return Field{}, false
}

// Rows groups a form into the lines it is typed in: neighbouring fields of one
// row together, every other field alone.
func Rows(form []Field) [][]Field {
	var out [][]Field
	for _, f := range form {
		if n := len(out); n > 0 && f.Row != "" && out[n-1][0].Row == f.Row {
			out[n-1] = append(out[n-1], f)
			continue
		}
		out = append(out, []Field{f})
	}
	return out
}

// instrument finds the instrument of the plan that typed names whole: by its id,
// or by the serial number on its label where one instrument alone has that.
func instrument(p *plan.Plan, typed string) (id string, err error) {
	id, err = whole(typed, plan.IDsOf(p.Meters, func(m plan.Meter) string { return m.ID }))
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

// KeysOf lists the keys of a form in order.
func KeysOf(form []Field) []string {
	return plan.IDsOf(form, func(f Field) string { return f.Key })
}
