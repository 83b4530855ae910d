package report

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/network"
	"handback/checks/plan"
	"handback/records/chain"
)

// RuleFaults names entries that no command writes: made by nobody of the plan, a
// concession that is not an engineer's, an answer whose value
// is not what was typed, a document of a signature without the signature, a repeat or a correction without its reason, a step that is
// not the plan's. A record with one was written by another hand, however sound its
// chain. Judgements that come out otherwise are in Differs.
func (j *Job) RuleFaults() []string {
	r := ruleBook{job: j, plan: j.opened(), judged: map[string]Judged{}, form: map[string][]checks.Field{}}
	for _, e := range j.Entries {
		r.entry(e)
	}
	for _, f := range j.amendFaults {
		r.faults.Add(f)
	}
	return r.faults.List()
}

type ruleBook struct {
	job    *Job
	plan   *plan.Plan        // in force at the entry
	judged map[string]Judged // newest of each check so far
	form   map[string][]checks.Field
	faults chain.Faults
}

func (r *ruleBook) found(e chain.Entry, format string, args ...any) {
	where := fmt.Sprintf("entry %d", e.Seq)
	if e.Check != "" {
		where += ", check " + e.Check
	}
	r.faults.Add(where + ": " + fmt.Sprintf(format, args...))
}

func (r *ruleBook) entry(e chain.Entry) {
	if r.plan.Person(e.By) == nil {
		r.found(e, "%.60q, who made it, is no person of the plan", e.By)
	}
	switch e.Kind {
	case EntryRead:
		if d, err := Decode[Read](e); err == nil {
			if d.Attempt > 1 && blank(d.Why) && r.begins(e, d.Attempt) {
				r.found(e, "attempt %d repeats one before and does not say why", d.Attempt)
			}
			r.answers(e, d.Answers)
		}
	case EntryJudge:
		if d, err := Decode[Judged](e); err == nil {
			r.judged[e.Check] = d
		}
	case EntryCorrect:
		if d, err := Decode[Corrected](e); err == nil {
			if blank(d.Why) {
				r.found(e, "a correction that does not say why")
			}
			r.answers(e, d.Answers)
		}
	case EntrySkip:
		if d, err := Decode[Skipped](e); err == nil && blank(d.Why) {
			r.found(e, "a check left out, and it does not say why")
		}
	case EntryAmend:
		if d, err := Decode[Amended](e); err == nil {
			r.plan = r.job.PlanOf(d.PlanHash)
			if blank(d.Why) {
				r.found(e, "an amendment of the plan that does not say why")
			}
		}
	case EntryDefect:
		if d, err := Decode[Raised](e); err == nil && blank(d.What) {
			r.found(e, "a defect that does not say what it is")
		}
	case EntryClose:
		if d, err := Decode[Closed](e); err == nil && blank(d.Done) {
			r.found(e, "a defect closed, and it does not say what was done")
		}
	case EntryConcede:
		if d, err := Decode[Conceded](e); err == nil {
			r.concession(e, d)
		}
	case EntryAttach:
		if d, err := chain.ReadAttached(e); err == nil && d.Document != "" && !r.signed(e) {
			r.found(e, "the %s of a signature, and no signature by %.60q follows it", d.Document, e.By)
		}
	case EntryStep, EntryUndo, EntryLeft, EntryFound:
		r.step(e)
	}
}

// step holds an entry about a step or a device to what its command demands.
func (r *ruleBook) step(e chain.Entry) {
	switch e.Kind {
	case EntryStep:
		d, err := Decode[Stepped](e)
		if s := r.plan.Step(d.ID()); err == nil && s != nil && s.Action != d.Action {
			r.found(e, "its step is %.80q, %s of the plan is to %q", d.Action, s.ID, s.Action)
		}
		if is := r.job.doneAt(e.Seq); err == nil && is != nil && len(is.Broken) > 0 {
			r.found(e, "the step %s was done against the rules %s", d.ID(), ruleNames(is.Broken))
		}
		if is := r.job.doneAt(e.Seq); err == nil && is != nil && d.Step != "" && len(is.Open) > 0 {
			r.found(e, "the step %s was done while it waited for %s", d.Step, gapNames(is.Open))
		}
		r.overrides(e, d.Overrides)
	case EntryUndo:
		d, err := Decode[Undone](e)
		r.overrides(e, d.Overrides)
		if err == nil && blank(d.Why) {
			r.found(e, "a step undone, and it does not say why")
		}
		if s := r.job.Plan.Step(d.ID()); err == nil && s != nil && r.job.forGood(s) {
			r.found(e, "the step %s was undone, and nothing undoes what it did", s.ID)
		}
		for _, u := range r.job.Undos {
			if u.Seq == e.Seq && len(u.Broken) > 0 {
				r.found(e, "the step %s was undone against the rules %s", u.Step, ruleNames(u.Broken))
			}
		}
	case EntryLeft:
		if d, err := Decode[NotDone](e); err == nil && blank(d.Why) {
			r.found(e, "a step left, and it does not say why")
		}
	case EntryFound:
		if d, err := Decode[FoundSo](e); err == nil && blank(d.Why) {
			r.found(e, "a device found otherwise, and it does not say why")
		}
	}
}

// overrides finds those that nobody took upon them, or without a reason.
func (r *ruleBook) overrides(e chain.Entry, all []network.Override) {
	for _, o := range all {
		if plan.Reasoned(o.Reason) != nil || blank(o.Person) {
			r.found(e, "rule %.40s overridden without a person and a reason", o.Rule)
		}
	}
}

// signed tells whether the document that an entry keeps is followed by the signature it
// belongs to, with nothing but documents between them.
func (r *ruleBook) signed(e chain.Entry) bool {
	for _, next := range r.job.Entries[e.Seq:] {
		if next.Kind == EntrySign {
			return next.By == e.By
		}
		if a, err := chain.ReadAttached(next); next.Kind != EntryAttach || err != nil || a.Document == "" {
			return false
		}
	}
	return false
}

func blank(text string) bool { return strings.TrimSpace(text) == "" }

// begins tells whether an entry is the first line of an attempt.
func (r *ruleBook) begins(e chain.Entry, attempt int) bool {
	for _, s := range r.states(e.Check) {
		for _, a := range s.Attempts {
			if a.Number == attempt && len(a.Lines) > 0 && a.Lines[0].Seq == e.Seq {
				return true
			}
		}
	}
	return false
}

// states are those of a check, in the plan or taken out of it.
func (r *ruleBook) states(check string) []*State {
	return slices.DeleteFunc(r.job.all(), func(s *State) bool { return s.Check.ID != check })
}

// concession holds a concession to what concede demands: an engineer of the plan
// gives it, under their own name, for the newest finding.
func (r *ruleBook) concession(e chain.Entry, c Conceded) {
	who := r.plan.Person(c.Engineer)
	switch {
	case who == nil:
		r.found(e, "a concession by %.60q, who is no person of the plan", c.Engineer)
	case who.Role != "engineer":
		r.found(e, "a concession by %s, who is %s in the plan: a concession is an engineer's", who.Name, who.Role)
	case e.By != c.Engineer && c.Telephone == nil:
		r.found(e, "a concession by %s that %.60q recorded: it is given under one's own name", who.Name, e.By)
	}
	switch proof := r.job.Proof(e.Seq); {
	case proof.Fault != "":
		r.found(e, "a concession by %.60q whose signature does not hold: %s", c.Engineer, proof.Fault)
	case proof.NotSo != "":
		r.found(e, "a concession by telephone that no command takes: %s", proof.NotSo)
	case proof.Demanded && proof.Key == "" && proof.Telephone == "":
		r.found(e, "a concession by %.60q that is not signed, and the plan allows none unsigned", c.Engineer)
	case proof.Void() != "": // by a key not known: it accepts nothing, and a record with it is as whole as before
		return
	}
	switch is, ok := r.judged[e.Check]; {
	case blank(c.Reason):
		r.found(e, "a concession that does not say why")
	case c.Found > 0 && !slices.ContainsFunc(r.job.Found, func(f Found) bool { return f.Accepted != nil && f.Accepted.Seq == e.Seq }):
		r.found(e, "an acceptance of what entry %d found, which accepts nothing", c.Found)
	case c.Found > 0:
	case c.Skip > 0 && c.Verdict != checks.Missing:
		r.found(e, "a concession of %s, the check was skipped", c.Verdict)
	case c.Skip > 0:
	case !ok || is.Attempt != c.Attempt:
		r.found(e, "a concession of attempt %d, which was not the newest finding", c.Attempt)
	case is.Verdict != c.Verdict:
		r.found(e, "a concession of %s, the finding was %s", c.Verdict, is.Verdict)
	case c.Verdict == checks.Pass && !r.accepts(e):
		r.found(e, "a concession of what passes") // and had not lapsed: read past a hold, or with an instrument found bad
	}
}

// accepts tells whether the concession of an entry counts.
func (r *ruleBook) accepts(e chain.Entry) bool {
	return slices.ContainsFunc(r.states(e.Check), func(s *State) bool {
		return slices.ContainsFunc(s.Concessions, func(x *Concession) bool { return x.Seq == e.Seq && x.Void == "" })
	})
}

// answers reads what was typed once more and holds it against what is stored.
func (r *ruleBook) answers(e chain.Entry, answers checks.Answers) {
	form := r.fields(e.Check)
	for _, key := range slices.Sorted(maps.Keys(answers)) {
		f, ok := checks.FieldNamed(form, key)
		if !ok {
			continue // not asked any more, with the answers there are now: nothing is judged by it
		}
		a := answers[key]
		if why := r.otherwise(f, a, e.At); why != "" {
			r.found(e, "%s: %.80q was typed, %s", key, a.Typed, why)
		}
	}
}

// fields is the form of a check, with the answers of each of its attempts and as each
// version of the plan asks it.
func (r *ruleBook) fields(check string) []checks.Field {
	if form, ok := r.form[check]; ok {
		return form
	}
	var form []checks.Field
	add := func(in checks.Input) {
		for _, f := range in.Form() {
			if _, ok := checks.FieldNamed(form, f.Key); !ok {
				form = append(form, f)
			}
		}
	}
	for _, s := range r.states(check) {
		if s.Out == 0 {
			add(r.job.Input(s.Check, r.job.Head().At))
		}
		for _, a := range s.Attempts {
			if s.Out == 0 {
				in := r.job.Input(s.Check, r.job.Head().At)
				in.Answers = a.Answers
				add(in)
			}
			add(r.job.attemptInput(s, a))
		}
	}
	r.form[check] = form
	return form
}

// otherwise says what is stored beside a typed text that does not come of it, "" when
// it does.
func (r *ruleBook) otherwise(f checks.Field, a checks.Answer, at time.Time) string {
	if is, err := checks.ParseAnswer(f, r.plan, a.Typed, at); a.NotThere != "" || err == nil && is.NotThere != "" {
		if is.NotThere != a.NotThere || a.Value != 0 || a.Word != "" {
			return fmt.Sprintf("and %.60q is stored as not there, with %v %.60q", a.NotThere, a.Value, a.Word)
		}
		return ""
	}
	switch f.Sort {
	case checks.Instant:
		return otherMoment(a, at)
	case checks.Measured, checks.Count:
		is, err := checks.ParseAnswer(f, r.plan, a.Typed, at)
		if err != nil || !sameReading(is, a) { // an import may declare the comma
			is, err = checks.ParseAnswer(f, r.plan, strings.Replace(a.Typed, ",", ".", 1), at)
		}
		switch {
		case err != nil:
			return fmt.Sprintf("which is no such reading, and %v %s is stored", a.Value, a.Unit)
		case !sameReading(is, a):
			return fmt.Sprintf("which is %s%v %s, and %s%v %s is stored", is.Bound, is.Value, is.Unit, a.Bound, a.Value, a.Unit)
		}
		return ""
	}
	if is, err := checks.ParseAnswer(f, r.plan, a.Typed, at); err == nil && is.Word != a.Word {
		return fmt.Sprintf("which is %.60q, and %.60q is stored", is.Word, a.Word)
	} else if err == nil {
		return ""
	}
	// How much of a word has to be typed is a matter of the version that asked.
	allowed := f.Options
	switch f.Sort {
	case checks.MeterUsed:
		allowed = nil
		for _, m := range r.plan.Meters {
			allowed = append(allowed, m.ID)
		}
	case checks.Initials:
		allowed = nil
		for _, p := range r.plan.People {
			allowed = append(allowed, p.ID)
		}
	}
	begun := len(a.Typed) <= len(a.Word) && strings.EqualFold(a.Word[:len(a.Typed)], a.Typed)
	if !slices.Contains(allowed, a.Word) || !begun && strings.Trim(a.Typed, "0123456789") != "" {
		return fmt.Sprintf("and %.60q is stored", a.Word)
	}
	return ""
}

func sameReading(a, b checks.Answer) bool {
	return a.Unit == b.Unit && a.Bound == b.Bound && math.Abs(a.Value-b.Value) <= 1e-9*math.Abs(a.Value)
}

// otherMoment holds a stored moment against the typed one, of which a time of day or
// "now" was completed when it was typed.
func otherMoment(a checks.Answer, at time.Time) string {
	is := a.Time()
	wrong := fmt.Sprintf("and %.60q is stored", a.Word)
	if is.IsZero() {
		return wrong
	}
	typed := strings.TrimSpace(a.Typed)
	if strings.EqualFold(typed, "now") {
		if since := at.Sub(is); since < -ClockSlack || since > 24*time.Hour {
			return wrong + ", in an entry of " + at.Format(time.RFC3339)
		}
		return ""
	}
	for _, layout := range []string{time.RFC3339, "15:04", "15:04:05", "2006-01-02 15:04", "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02T15:04:05"} {
		said, err := time.Parse(layout, typed)
		if err != nil {
			continue
		}
		if layout == time.RFC3339 && said.Equal(is) || layout != time.RFC3339 && said.Format(layout) == is.Format(layout) && (strings.HasSuffix(layout, ":05") || is.Second() == 0) {
			return ""
		}
	}
	return wrong
}

// ClockSlack is how far the clock of a tablet may stand before or behind the
// laptop's.
const ClockSlack = 10 * time.Minute
