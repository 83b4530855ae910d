package report

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report/history"
)

// State is what became of one check.
type State struct {
	Check      *plan.Check
	Attempts   []*Attempt
	Skip       *Skip       // the last word was that it is left out
	Concession *Concession // the newest

	// Concessions are all of them, oldest first: one that a later attempt has
	// overtaken was given all the same.
	Concessions []*Concession

	Out       int    // the amendment that took it out of the plan, 0 while it is in
	amended   int    // the newest amendment that changes what it comes to, or what it asks
	crossed   string // the hold point that an amendment moved it across after its step was taken
	crossedAt int    // that amendment
	past      history.Past
}

// Attempt is one set of answers of a check.
type Attempt struct {
	Number      int
	Answers     checks.Answers
	Lines       []Entered
	By          string
	Why         string // why it repeats the one before
	PastHold    string
	Order       string    // why it did not fit the state of the plant when it was begun, "" when it did
	First       time.Time // when its first line was read
	Judged      bool
	At          time.Time // when it was first judged
	Seq         int       // entry that judged it last
	JudgedFirst int       // entry that judged it first
	Finding     checks.Finding
	Recorded    Judged // what the newest judgement came to when it was recorded
	Told        Judged // what it comes to, in the recorded words where it is the same
	Corrections []Correction
	plan        *plan.Plan           // by which it was read and judged, nil for the one in force
	check       *plan.Check          // as that plan has it
	before      checks.Earlier       // what earlier checks had come to when it was judged last
	known       checks.Earlier       // and when it was judged first
	steps       map[string]time.Time // the steps taken by then
	form        []checks.Field       // what it asked, nil while nobody wanted to know
}

// Correction is an answer put right after it was judged.
type Correction struct {
	Seq     int
	At      time.Time
	By, Key string
	Was, Is checks.Answer
	Why     string
}

// Skip is a check left out for now.
type Skip struct {
	Seq     int
	At      time.Time
	By, Why string
}

// Concession is an engineer's acceptance of a finding.
type Concession struct {
	Seq      int
	At       time.Time
	By       string
	Engineer string
	Attempt  int
	Verdict  checks.Verdict
	Stop     string
	Reason   string
	Skip     int    // the skip it accepts as not done, 0 when it accepts an attempt
	Void     string // why it accepts nothing, "" when it does
}

// Of is what a concession accepts.
func (c *Concession) Of() string {
	if c.Skip > 0 {
		return "not done"
	}
	return "attempt " + strconv.Itoa(c.Attempt)
}

// begun is the entry of its first line.
func (a *Attempt) begun() int {
	if len(a.Lines) == 0 {
		return a.JudgedFirst
	}
	return a.Lines[0].Seq
}

// Unjudged tells whether answers were put right after the attempt was judged last,
// so that its finding is not theirs.
func (a *Attempt) Unjudged() bool {
	n := len(a.Corrections)
	return n > 0 && a.Corrections[n-1].Seq > a.Seq
}

// Last is the newest attempt, nil when there is none.
func (s *State) Last() *Attempt {
	if len(s.Attempts) == 0 {
		return nil
	}
	return s.Attempts[len(s.Attempts)-1]
}

// LastJudged is the newest judged attempt, nil when there is none.
func (s *State) LastJudged() *Attempt {
	for _, a := range slices.Backward(s.Attempts) {
		if a.Judged {
			return a
		}
	}
	return nil
}

// Verdict is that of the newest judged attempt, missing when there is none. An
// attempt that repeats it counts only once it is judged.
func (s *State) Verdict() checks.Verdict {
	if a := s.LastJudged(); a != nil {
		return a.Finding.Verdict
	}
	return checks.Missing
}

// AcceptedSkip tells whether the check was left out and an engineer accepted that.
func (s *State) AcceptedSkip() bool {
	return s.Skip != nil && s.Concession != nil && s.Concession.Void == "" && s.Concession.Skip == s.Skip.Seq
}

// IsConceded tells whether the newest judged attempt was accepted as it is, or the check
// as not done.
func (s *State) IsConceded() bool {
	a := s.LastJudged()
	return s.AcceptedSkip() || a != nil && s.Concession != nil && s.Concession.Void == "" && s.Concession.Skip == 0 && s.Concession.Attempt == a.Number && s.Concession.Seq > a.Seq
}

// SameAnswer tells whether two answers say the same. A bare time of day means the
// same as when it was taken first, whatever the day is now.
func SameAnswer(a, b checks.Answer, bareTime bool) bool {
	return a.Value == b.Value && a.Bound == b.Bound && a.Word == b.Word && a.NotThere == b.NotThere || bareTime && a.Typed == b.Typed
}

// Use is one answer that an instrument gave, or its part in a check that reads
// nothing from it, such as a proving source.
type Use struct {
	Job     string    `json:"job"`
	Meter   string    `json:"instrument"`
	Serial  string    `json:"serial"`
	Check   string    `json:"check"`
	Attempt int       `json:"attempt"`
	Entry   int       `json:"entry"`
	At      time.Time `json:"at"`
	Label   string    `json:"label"`
	Typed   string    `json:"typed"`
	InDate  bool      `json:"in_date"` // by the plan's due date, when it was read
}

// Uses lists every answer each instrument gave, in plan order: what must be
// looked at again when an instrument is found out of order later.
func (j *Job) Uses() []Use {
	out := []Use{}
	for _, s := range j.all() {
		for _, a := range s.Attempts {
			out = append(out, j.usesIn(s, a)...)
		}
	}
	return out
}

func (j *Job) usesIn(s *State, a *Attempt) []Use {
	var out []Use
	read := map[string]bool{} // instrument fields that gave a reading
	form := j.form(s, a)
	for _, f := range form {
		if ans, ok := a.Answers[f.Key]; ok && f.Meter != "" && ans.NotThere == "" {
			read[f.Meter] = true
			out = j.use(out, s, a, f, a.Answers[f.Meter].Word, ans.Typed)
		}
	}
	for _, f := range form {
		if ans, ok := a.Answers[f.Key]; ok && f.Sort == checks.MeterUsed && !read[f.Key] {
			out = j.use(out, s, a, f, ans.Word, "used")
		}
	}
	return out
}

func (j *Job) use(out []Use, s *State, a *Attempt, f checks.Field, id, typed string) []Use {
	m := j.meter(id)
	if m == nil {
		return out
	}
	return append(out, Use{Job: j.ID, Meter: m.ID, Serial: m.Serial, Check: s.Check.ID, Attempt: a.Number, Entry: entryOf(a, f.Key),
		At: a.First, Label: f.Label, Typed: typed, InDate: m.InDate(a.First)})
}

// attemptInput is what an attempt's form is made from: what was known when it was
// judged, or what is known now while it is not.
func (j *Job) attemptInput(s *State, a *Attempt) checks.Input {
	in := j.input(s, a)
	if a.before == nil {
		in.Before = j.Before(s.Check.ID)
	}
	return in
}

// InputOf is what an attempt was judged from last, by the plan it was judged by.
func (j *Job) InputOf(s *State, a *Attempt) checks.Input { return j.attemptInput(s, a) }

// form is what an attempt asks. That of the newest judged one, which much else hangs on, is
// kept until its answers are put right. It is read only.
func (j *Job) form(s *State, a *Attempt) []checks.Field {
	if a != s.LastJudged() { // nor of a copy of it with other answers
		return j.attemptInput(s, a).Form()
	}
	if a.form == nil {
		a.form = j.attemptInput(s, a).Form()
	}
	return a.form
}

// Given is an answer of an attempt with the field it answers.
type Given struct {
	Field  checks.Field
	Answer checks.Answer
	Entry  int // seq of the entry that gave it last
}

// Given lists the answers of an attempt in the order of its form.
func (j *Job) Given(s *State, a *Attempt) []Given {
	var out []Given
	for _, f := range j.form(s, a) {
		if ans, ok := a.Answers[f.Key]; ok {
			out = append(out, Given{f, ans, entryOf(a, f.Key)})
		}
	}
	return out
}

// telephoneSpan is how long after a call its words may be recorded (our choice: a shift).
const telephoneSpan = 12 * time.Hour

// MayTelephone says why a check cannot be accepted by telephone in a call, nil when it can:
// a hold point that needs it allows that, somebody else called, a third person listened,
// number and words are there, and what was accepted stood in the record by then.
func (j *Job) MayTelephone(a chain.Acceptance, by string, t Telephoned, called, now time.Time) error {
	caller, listener, engineer := j.Plan.Person(by), j.Plan.Person(t.Listened), j.PersonName(a.Person)
	check, since := a.Of, now
	if a.Accepts == chain.AcceptsFound {
		check = ""
	}
	if a.Entry > 0 && a.Entry <= len(j.Entries) {
		since = j.Entries[a.Entry-1].At
	}
	switch {
	case len(j.telephoneHolds(check)) == 0:
		return fmt.Errorf("no hold point that needs %s takes a word by telephone: the plan says telephone: yes at one that does", cmp.Or(check, "it"))
	case strings.Trim(t.Number, "0123456789+() /-") != "" || !strings.ContainsAny(t.Number, "0123456789"):
		return fmt.Errorf("number %.40q: the number that was called is wanted", t.Number)
	case caller == nil || sameName(caller.Name, engineer):
		return fmt.Errorf("who called is a person of the plan, and not the engineer who was called: give --by")
	case listener == nil || sameName(listener.Name, engineer) || sameName(listener.Name, caller.Name):
		return fmt.Errorf("a second person listens, one of the plan who is neither %s nor %s", caller.Name, engineer)
	case called.After(now.Add(ClockSlack)) || now.Sub(called) > telephoneSpan:
		return fmt.Errorf("called at %s: the words are recorded within %.0f hours of the call", Stamp(called), telephoneSpan.Hours())
	case called.Before(since.Add(-ClockSlack)):
		return fmt.Errorf("called at %s: what is accepted was recorded at %s (entry %d): nobody accepts what is not there yet; call again", Stamp(called), Stamp(since), a.Entry)
	}
	return plan.Reasoned(t.Words)
}

// spoken tells whether a check stands accepted by telephone alone.
func (j *Job) spoken(s *State) bool {
	return s.IsConceded() && j.Proof(s.Concession.Seq).Telephone != ""
}

// telephoneAgainst are the acceptances by telephone whose signature has not followed.
func (j *Job) telephoneAgainst() []string {
	var out []string
	for _, s := range j.States {
		if j.spoken(s) {
			out = append(out, fmt.Sprintf("%s was accepted by telephone (entry %d), and the signature of %s has not followed", s.Check.ID, s.Concession.Seq, j.PersonName(s.Concession.Engineer)))
		}
	}
	return out
}

// otherwise says what is stored beside a typed text that does not come of it, "" when
// it does.
func (r *ruleBook) otherwise(f checks.Field, a checks.Answer, at time.Time) string {
	is, err := checks.ParseAnswer(f, r.plan, a.Typed, at)
	if a.NotThere != "" || err == nil && is.NotThere != "" {
		if is.NotThere != a.NotThere || a.Value != 0 || a.Word != "" {
			return fmt.Sprintf("and %.60q is stored as not there, with %v %.60q", a.NotThere, a.Value, a.Word)
		}
		return ""
	}
	switch f.Sort {
	case checks.Instant:
		return otherMoment(a, at)
	case checks.Measured, checks.Count:
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
	if err == nil && is.Word != a.Word {
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
