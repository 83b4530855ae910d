package checks

import (
	"math"
	"strings"

	"handback/checks/calc"
	"handback/checks/quantity"
)

// Work is a judgement in the making: a kind reads answers, shows values, holds
// them against limits and says what it saw.
type Work struct {
	Input
	form    []Field
	sources calc.Readings
	found   Finding
	judged  int        // how many things were actually held against something
	rests   [][]string // what each reason rests on, by field; nil when it did not say
	lean    bool       // what is only shown is not wanted
	mute    bool       // nor are the values that reasons name: the verdict alone is
	doubted *[]Doubt   // what is doubted, once that was asked
}

// NewWork begins a judgement.
func NewWork(in Input) *Work {
	in.once = map[any]any{}
	return &Work{Input: in, form: in.Form(), sources: calc.Readings{}}
}

// Judge works out the finding of a check's answers.
//
// Every needed field must be answered, every instrument in date and within its
// range; a reading that cannot be right makes the finding inconclusive unless
// it stops the work. A finding passes only when something was judged and
// nothing in it is worse than pass.
func Judge(in Input) Finding { return NewWork(in.there()).all(in) }

func (w *Work) all(in Input) Finding {
	for _, s := range in.Check.Stretched {
		w.Caution("stretched", Shown("by", s))
	}
	w.found.Rule = RuleSimple
	w.missing(in.Answers)
	w.instruments()
	w.functionCheck()
	KindOf(in.Check).Judge(w)
	w.baseline()
	w.doubts()
	return w.close()
}

// missing says what of all answers, those about what is not there among them, is open.
func (w *Work) missing(all Answers) {
	for _, f := range w.form {
		switch a, ok := all[f.Key]; {
		case a.NotThere != "":
			w.Say(Missing, f.Key, "not-there", Label("field", f), Word("why", a.NotThere))
		case !ok && f.Need:
			w.Say(Missing, f.Key, "unanswered", Label("field", f))
		}
	}
	for key := range all {
		if _, ok := FieldNamed(w.form, key); !ok {
			w.Say(Missing, key, "unasked", Word("field", key))
		}
	}
}

// instruments looks up each reading's instrument and its error there.
func (w *Work) instruments() {
	late := map[string]bool{}
	for _, f := range w.form {
		a, ok := w.Answers[f.Key]
		if !ok {
			continue
		}
		if f.Sort == MeterUsed {
			if m := w.Plan.Meter(a.Word); m != nil && !late[m.ID] {
				late[m.ID] = true
				if why := m.OutOfDate(w.At); why != "" {
					w.Say(Fail, f.Key, "overdue", Word("instrument", m.ID), Shown("why", why))
				}
				w.sees(f, m)
				w.category(f, m)
			}
			continue
		}
		if f.Sort == Measured || f.Sort == Count {
			w.sources[f.Key] = w.sourceOf(f, a)
		}
	}
}

func (w *Work) sourceOf(f Field, a Answer) calc.Source {
	s := calc.Source{Label: f.Label, Unit: f.Unit, Value: a.Value}
	if f.Sort == Count {
		s.Exact, s.Known = true, true
		return s
	}
	s.Of = quantity.QuantityOf(f.Unit)
	used, ok := w.Answers[f.Meter]
	if f.Meter == "" || !ok {
		return s
	}
	m := w.Plan.Meter(used.Word)
	if m == nil {
		return s
	}
	if why := m.Unreadable(s.Of); why != "" {
		w.Say(Fail, f.Key, "not-read-by", Word("instrument", m.ID), Shown("why", why), Label("field", f))
		return s
	}
	if len(m.Ranges) == 0 {
		return s
	}
	s.Meter = m.ID
	r, ok := m.RangeFor(s.Of, a.Value)
	if !ok {
		w.Say(Fail, f.Key, "out-of-ranges", Label("field", f), Num("read", a.Value, a.Unit), Word("instrument", m.Name))
		return s
	}
	s.In = [2]float64{math.Inf(-1), r.To.Value}
	if r.From != nil {
		s.In[0] = r.From.Value
	}
	_, s.Span, s.Step, s.Known = r.ErrorAt(a.Value)
	if r.Reading != nil {
		s.Share = float64(*r.Reading)
	}
	return s
}

// close combines all that was said into the verdict.
func (w *Work) close() Finding {
	var said []Verdict
	for _, r := range w.found.Reasons {
		said = append(said, r.Verdict)
	}
	v := Worst(said...)
	if w.judged == 0 && v == Pass {
		v = Missing
		w.Say(Missing, "", "nothing-judged")
	}
	if !w.found.Stop.None() {
		v = Worst(v, Fail)
	}
	w.found.Verdict, w.found.sources = v, w.sources
	w.found.Until, w.found.Soon = w.Fresh(v)
	w.found.Reasons, w.found.Bases, w.found.Derived = fitted(w.found.Reasons), fitted(w.found.Bases), fitted(w.found.Derived)
	for _, r := range w.found.Reasons {
		for i := range r.Values {
			r.Values[i].Value.keptIn(w.found.Derived)
		}
	}
	return w.found
}

// fitted is a list without the room that it grew by: a job keeps its findings.
func fitted[T any](list []T) []T {
	if len(list) == cap(list) {
		return list
	}
	return append(make([]T, 0, len(list)), list...)
}

// Say adds a reason, which rests on the fields it names, with blanks between them. A
// pass said here counts as something judged.
func (w *Work) Say(v Verdict, fields, code string, args ...Arg) {
	var on []string
	if fields != "" {
		on = strings.Fields(fields)
	}
	w.SayOn(v, on, on, Say(code, args...))
}

// SayOn adds a reason about some fields that rests on others, too; on nothing that
// could be doubted where on is empty.
func (w *Work) SayOn(v Verdict, fields, on []string, s Said) {
	w.judged++
	w.rests = append(w.rests, on)
	w.found.Reasons = append(w.found.Reasons, Reason{Verdict: v, Fields: fields, Said: s})
	w.found.Bases = append(w.found.Bases, Basis{})
}

// basis is that of what was said last.
func (w *Work) basis() *Basis { return &w.found.Bases[len(w.found.Bases)-1] }

// sayOf says the verdict of a derived value, which its words call value.
func (w *Work) sayOf(d *Derived, field, code string, args ...Arg) {
	said := Said{Code: code}
	if !w.mute {
		said = Say(code, append(args, OfValue("value", *d))...)
	}
	w.SayOn(d.Verdict, strings.Fields(field), d.Expr.Readings(), said)
	w.basis().Value = d.Key
}

// Stop marks the finding with what nobody may pass over and fails it.
func (w *Work) Stop(code string, args ...Arg) { w.StopAt(nil, code, args...) }

// StopAt is Stop with the fields whose answers bring it, so that it can be told at
// the line that read them. No doubt of a reading takes it away.
func (w *Work) StopAt(fields []string, code string, args ...Arg) {
	s := Say(code, args...)
	if w.found.Stop.None() {
		w.found.Stop = s
	}
	w.SayOn(Fail, fields, nil, s)
}

// Caution adds a word of care to the finding.
func (w *Work) Caution(code string, args ...Arg) {
	w.found.Cautions = append(w.found.Cautions, Say(code, args...))
}

// AssumeShare takes a share of a reading, in per cent, as its error where its instrument
// states none.
func (w *Work) AssumeShare(key string, share float64) {
	s := w.sources[key]
	s.Share, s.Known = share, true
	w.sources[key] = s
}

// Widen gives a reading an error of its own of at least step.
func (w *Work) Widen(key string, step float64) {
	s := w.sources[key]
	s.Step = math.Max(s.Step, step)
	w.sources[key] = s
}

// Finding is what was found so far.
func (w *Work) Finding() Finding { return w.found }

// Plot gives the finding a reading over time to show.
func (w *Work) Plot(c Course) { w.found.Course = &c }

// Has tells whether a field was answered.
func (w *Work) Has(keys ...string) bool {
	return w.Answers.Have(keys...)
}

// Word is a field's option, text or id, "" when not answered.
func (w *Work) Word(key string) string { return w.Answers[key].Word }

// Read is a reading as a leaf of a computation. An unanswered one is NaN, which
// never passes.
func (w *Work) Read(key string) *calc.Expr {
	f, ok := FieldNamed(w.form, key)
	if !ok {
		panic("checks: " + w.Check.Kind.Name + " reads " + key + ", which it does not ask")
	}
	return calc.Reading(key, f.Label, f.Unit)
}

// ReadIn is Read in the unit the field is typed and shown in, such as MΩ: for
// values no one reads in base units.
func (w *Work) ReadIn(key string) *calc.Expr {
	return w.Read(key).InOwnUnit()
}

// Past is a reading of an earlier check as a leaf, with the uncertainty its own
// instrument gives it. ok is false when that check was not taken or
// read no more than a bound.
func (w *Work) Past(check, field string) (leaf *calc.Expr, ok bool) {
	past := w.Came(check)
	if !past.Taken() {
		return nil, false
	}
	a, ok := past.Answers[field]
	if !ok || a.Bound != "" {
		return nil, false
	}
	c := w.Plan.Check(check)
	earlier := Work{Input: Input{Plan: w.Plan, Check: c, Answers: past.Answers, Before: w.Before, At: past.At}}
	f, _ := FieldNamed(earlier.Form(), field)
	key := check + "/" + field
	s := earlier.sourceOf(f, a)
	s.Label += " (" + c.Title + ")"
	w.sources[key] = s
	return calc.Reading(key, s.Label, f.Unit), true
}

// reading finds an answer by field key, or by check/field for an earlier check.
func (w *Work) reading(key string) (Answer, bool) {
	if check, field, ok := strings.Cut(key, "/"); ok {
		a, ok := w.Came(check).Answers[field]
		return a, ok
	}
	a, ok := w.Answers[key]
	return a, ok
}

func (w *Work) Value(key string) float64 {
	a, ok := w.reading(key)
	if !ok {
		return math.NaN()
	}
	return a.Value
}

// Show works out a value that is shown but not judged, and returns it.
func (w *Work) Show(key, name, unit string, e *calc.Expr) float64 {
	if !w.Answered(e) {
		return math.NaN()
	}
	if w.lean {
		return e.Eval(w.Value)
	}
	d := w.derive(key, name, unit, e)
	w.found.Derived = append(w.found.Derived, d)
	return d.Value
}

// Hold works out a value, judges it against the limit and says the outcome.
// Unanswered readings leave it out: they are missing already.
func (w *Work) Hold(key, name, unit string, e *calc.Expr, l *Limit) Verdict {
	return w.hold(key, name, unit, e, l, "")
}

// HoldField is Hold with the field whose reading is judged.
func (w *Work) HoldField(field, key, name, unit string, e *calc.Expr, l *Limit) Verdict {
	return w.hold(key, name, unit, e, l, field)
}

func (w *Work) hold(key, name, unit string, e *calc.Expr, l *Limit, field string) Verdict {
	if !w.Answered(e) {
		return Missing
	}
	d := w.derive(key, name, unit, e)
	w.judgeBy(&d, l)
	d.Verdict = Decide(d.Value, d.U, *l, d.Guarded())
	if d.Known == calc.KnownWhole && !w.lean {
		d.ChanceOut = chanceOut(d.Value, d.Spread, *l)
	}
	w.found.Derived = append(w.found.Derived, d)
	w.sayOf(&d, field, d.code())
	return d.Verdict
}

// judgeBy gives a value its limit and the rule it is judged by.
func (w *Work) judgeBy(d *Derived, l *Limit) {
	d.Limit, d.Rule = l, w.ruleOf(d.Known)
	if d.Guarded() {
		w.found.Rule = RuleGuarded
	}
}

func (w *Work) Answered(e *calc.Expr) bool {
	for _, k := range e.Readings() {
		if _, ok := w.reading(k); !ok {
			return false
		}
	}
	return true
}
