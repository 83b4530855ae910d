package report

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/network"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report/fork"
)

// RuleFaults names entries that no command writes. A record with one was written by
// another hand, however sound its chain. Judgements that come out otherwise are in
// Differs.
func (j *Job) RuleFaults() []string {
	var faults chain.Faults
	for _, b := range j.Breaches() {
		faults.Add(b.Words)
	}
	return faults.List()
}

// Breach is an entry that breaks a rule.
type Breach struct{ Rule, Words string }

// Breaches holds every entry against every rule. They are read only.
func (j *Job) Breaches() []Breach {
	held := [2]int{len(j.Entries), len(j.Lines)}
	if j.ruled == held {
		return j.breaches
	}
	r := newRuleBook(j, j.opened())
	for _, e := range j.Entries {
		r.hold(e)
		switch e.Kind {
		case EntryJudge:
			if d, err := dataOf[Judged](j, e); err == nil {
				r.judged[e.Check] = d
			}
		case EntryAmend:
			if d, err := Decode[Amended](e); err == nil {
				r.plan = j.PlanOf(d.PlanHash)
			}
		}
	}
	j.ruled, j.breaches = held, r.breaches
	return r.breaches
}

// BreachesSince holds the entries after the first so many against the rules, as they are
// about to be stored: what a command would write goes through the rules that replay
// knows.
func (j *Job) BreachesSince(seq int) []Breach {
	r := newRuleBook(j, j.Plan)
	added := j.Entries[seq:]
	if slices.ContainsFunc(added, func(e chain.Entry) bool { return e.Kind != EntryRead && e.Kind != EntryJudge }) { // a line typed accepts nothing
		for _, s := range j.all() {
			if a := s.LastJudged(); a != nil {
				r.judged[s.Check.ID] = a.Recorded
			}
		}
	}
	for _, e := range added {
		r.hold(e)
	}
	return r.breaches
}

// ruleBook holds entries against the rules, oldest first.
type ruleBook struct {
	job      *Job
	plan     *plan.Plan        // in force at the entry
	judged   map[string]Judged // newest of each check so far
	form     map[string]*asked
	rules    map[string][]rule // by the kind of entry
	rule     string            // that is looked at
	breaches []Breach
}

func newRuleBook(j *Job, p *plan.Plan) *ruleBook {
	return &ruleBook{job: j, plan: p, judged: map[string]Judged{}, form: map[string]*asked{}, rules: map[string][]rule{}}
}

// rule is what an entry of some kinds must be like. Every one is held by the session that
// stores an entry and by replay.
type rule struct {
	name  string
	kinds []string // none: every kind
	hold  func(r *ruleBook, e chain.Entry)
}

// rules are all of them, in the order in which an entry is held against them.
func rules() []rule {
	out := []rule{
		{"person", nil, (*ruleBook).person},
		{ruleOrder, []string{EntryRead}, (*ruleBook).order},
		{"repeat-reason", []string{EntryRead}, (*ruleBook).repeated},
		{"typed", []string{EntryRead, EntryCorrect}, (*ruleBook).typed},
		{"correction-reason", []string{EntryCorrect}, says(func(d Corrected) string { return d.Why }, "a correction that does not say why")},
		{"skip-reason", []string{EntrySkip}, says(func(d Skipped) string { return d.Why }, "a check left out, and it does not say why")},
		{"note-words", []string{EntryNote}, says(func(d Noted) string { return d.Text }, "a note without a word")},
		{"amendment-reason", []string{EntryAmend}, says(func(d Amended) string { return d.Why }, "an amendment of the plan that does not say why")},
		{"amendment", []string{EntryAmend, EntryAccept}, (*ruleBook).amendment},
		{"review", []string{EntryRemark, EntryAnswer, EntryWithdraw, EntryReview}, (*ruleBook).amendment},
		{"bad-reason", []string{EntryBad}, says(func(d FoundBad) string { return d.Why }, "an instrument found bad, and it does not say why")},
		{"defect-words", []string{EntryDefect}, says(func(d Raised) string { return d.What }, "a defect that does not say what it is")},
		{"close-words", []string{EntryClose}, says(func(d Closed) string { return d.Done }, "a defect closed, and it does not say what was done")},
		{"acceptance-person", []string{EntryConcede}, (*ruleBook).accepting},
		{"acceptance-reason", []string{EntryConcede}, says(func(d Conceded) string { return d.Reason }, "a concession that does not say why")},
		{"acceptance-proof", []string{EntryConcede}, (*ruleBook).proved},
		{"acceptance-finding", []string{EntryConcede}, (*ruleBook).accepted},
		{"document", []string{EntryAttach}, (*ruleBook).document},
		{"stamp", []string{EntryAttach}, (*ruleBook).stamp},
		{"step-action", []string{EntryStep}, (*ruleBook).action},
		{"step-rules", []string{EntryStep}, (*ruleBook).stepRules},
		{"step-waits", []string{EntryStep}, (*ruleBook).waits},
		{ruleHoldWaits, []string{EntryStep}, (*ruleBook).waits},
		{"override", []string{EntryStep, EntryUndo}, (*ruleBook).overridden},
		{"undo-reason", []string{EntryUndo}, says(func(d Undone) string { return d.Why }, "a step undone, and it does not say why")},
		{"undo-for-good", []string{EntryUndo}, (*ruleBook).undone},
		{"undo-rules", []string{EntryUndo}, (*ruleBook).undoRules},
		{"left-reason", []string{EntryLeft}, says(func(d NotDone) string { return d.Why }, "a step left, and it does not say why")},
		{"found-reason", []string{EntryFound}, says(func(d FoundSo) string { return d.Why }, "a device found otherwise, and it does not say why")},
		{"join-person", []string{EntryAdopt, EntryJoin}, (*ruleBook).joining},
	}
	for _, f := range fork.Rules() {
		out = append(out, rule{f.Name, f.Kinds, func(r *ruleBook, e chain.Entry) {
			if why := f.Hold(r.job.Entries, e, r.job.Lines); why != "" {
				r.found(e, "%s", why)
			}
		}})
	}
	return out
}

// Rules whose breach has a flag of its own, and stands against the job by it.
const (
	ruleOrder     = "order"
	ruleHoldWaits = "hold-waits"
)

// Rules are the names of all rules.
func Rules() []string {
	var out []string
	for _, r := range rules() {
		out = append(out, r.name)
	}
	return out
}

// hold holds an entry against every rule of its kind, and what it adopts likewise.
func (r *ruleBook) hold(e chain.Entry) {
	if is, err := r.job.Counts(e); err == nil && e.Kind == EntryAdopt {
		r.hold(is)
	}
	of, known := r.rules[e.Kind]
	if !known {
		of = slices.DeleteFunc(rules(), func(rule rule) bool { return len(rule.kinds) > 0 && !slices.Contains(rule.kinds, e.Kind) })
		r.rules[e.Kind] = of
	}
	for _, rule := range of {
		r.rule = rule.name
		rule.hold(r, e)
	}
}

func (r *ruleBook) found(e chain.Entry, format string, args ...any) {
	where := fmt.Sprintf("entry %d", e.Seq)
	if e.Check != "" {
		where += ", check " + e.Check
	}
	r.breaches = append(r.breaches, Breach{r.rule, where + ": " + fmt.Sprintf(format, args...)})
}

// says holds an entry to its words, which must not be blank.
func says[T any](text func(T) string, otherwise string) func(*ruleBook, chain.Entry) {
	return func(r *ruleBook, e chain.Entry) {
		if d, err := dataOf[T](r.job, e); err == nil && blank(text(d)) {
			r.found(e, "%s", otherwise)
		}
	}
}

func (r *ruleBook) person(e chain.Entry) {
	if r.plan.Person(e.By) == nil {
		r.found(e, "%.60q, who made it, is no person of the plan", e.By)
	}
}

func (r *ruleBook) joining(e chain.Entry) {
	if p := r.plan.Person(e.By); p == nil || p.Role != "engineer" {
		r.found(e, "a join by %.60q, who is no engineer of the plan", e.By)
	}
}

func (r *ruleBook) order(e chain.Entry) {
	if d, err := dataOf[Read](r.job, e); err == nil {
		if a := r.begun(e, d.Attempt); a != nil && a.Order != "" {
			r.found(e, "it was read out of order: %s", a.Order)
		}
	}
}

func (r *ruleBook) repeated(e chain.Entry) {
	if d, err := dataOf[Read](r.job, e); err == nil && d.Attempt > 1 && blank(d.Why) && r.begun(e, d.Attempt) != nil {
		r.found(e, "attempt %d repeats one before and does not say why", d.Attempt)
	}
}

func (r *ruleBook) typed(e chain.Entry) {
	if e.Kind == EntryRead {
		if d, err := dataOf[Read](r.job, e); err == nil {
			r.answers(e, r.line(e, d.Attempt).Answers)
		}
	} else if d, err := dataOf[Corrected](r.job, e); err == nil {
		r.answers(e, keyed(d.Answers))
	}
}

func (r *ruleBook) amendment(e chain.Entry) {
	if why := r.job.amendFaults[e.Seq]; why != "" {
		r.found(e, "%s", why)
	}
}

func (r *ruleBook) action(e chain.Entry) {
	d, err := Decode[Stepped](e)
	if s := r.plan.Step(d.ID()); err == nil && s != nil && s.Action != d.Action {
		r.found(e, "its step is %.80q, %s of the plan is to %q", d.Action, s.ID, s.Action)
	}
}

func (r *ruleBook) stepRules(e chain.Entry) {
	d, err := Decode[Stepped](e)
	if is := r.job.doneAt(e.Seq); err == nil && is != nil && len(is.Broken) > 0 {
		r.found(e, "the step %s was done against the rules %s", d.ID(), ruleNames(is.Broken))
	}
}

func (r *ruleBook) waits(e chain.Entry) {
	d, err := Decode[Stepped](e)
	if is := r.job.doneAt(e.Seq); err == nil && is != nil && len(is.Open) > 0 && (d.Step == "") == (r.rule == ruleHoldWaits) {
		r.found(e, "the step %s was done while it waited for %s", d.ID(), gapNames(is.Open))
	}
}

func (r *ruleBook) undone(e chain.Entry) {
	d, err := Decode[Undone](e)
	if s := r.job.Plan.Step(d.ID()); err == nil && s != nil && r.job.forGood(s) {
		r.found(e, "the step %s was undone, and nothing undoes what it did", s.ID)
	}
}

func (r *ruleBook) undoRules(e chain.Entry) {
	for _, u := range r.job.Undos {
		if u.Seq == e.Seq && len(u.Broken) > 0 {
			r.found(e, "the step %s was undone against the rules %s", u.Step, ruleNames(u.Broken))
		}
	}
}

// overridden finds overrides that nobody took upon them, or without a reason.
func (r *ruleBook) overridden(e chain.Entry) {
	var all []network.Override
	if d, err := Decode[Stepped](e); err == nil && e.Kind == EntryStep {
		all = d.Overrides
	}
	if d, err := Decode[Undone](e); err == nil && e.Kind == EntryUndo {
		all = d.Overrides
	}
	for _, o := range all {
		if plan.Reasoned(o.Reason) != nil || blank(o.Person) {
			r.found(e, "rule %.40s overridden without a person and a reason", o.Rule)
		}
	}
}

func blank(text string) bool { return strings.TrimSpace(text) == "" }

// begun is the attempt whose first line an entry is, nil for none.
func (r *ruleBook) begun(e chain.Entry, attempt int) *Attempt {
	for _, s := range r.states(e.Check) {
		for _, a := range s.Attempts {
			if a.Number == attempt && len(a.Lines) > 0 && a.Lines[0].Seq == e.Seq {
				return a
			}
		}
	}
	return nil
}

// states are those of a check, in the plan or taken out of it.
func (r *ruleBook) states(check string) []*State {
	out := slices.DeleteFunc(slices.Clone(r.job.TakenOut), func(s *State) bool { return s.Check.ID != check })
	if s := r.job.State(check); s != nil {
		out = slices.Insert(out, 0, s)
	}
	return out
}

// accepting holds a concession to who gives it: an engineer of the plan, under their
// own name.
func (r *ruleBook) accepting(e chain.Entry) {
	c, err := Decode[Conceded](e)
	who := r.plan.Person(c.Engineer)
	switch {
	case err != nil:
	case who == nil:
		r.found(e, "a concession by %.60q, who is no person of the plan", c.Engineer)
	case who.Role != "engineer":
		r.found(e, "a concession by %s, who is %s in the plan: a concession is an engineer's", who.Name, who.Role)
	case e.By != c.Engineer && c.Telephone == nil:
		r.found(e, "a concession by %s that %.60q recorded: it is given under one's own name", who.Name, e.By)
	}
}

// accepted holds a concession to what it accepts: the newest finding, or what was skipped
// or found otherwise.
func (r *ruleBook) accepted(e chain.Entry) {
	c, err := Decode[Conceded](e)
	switch is, ok := r.judged[e.Check]; {
	case err != nil, r.job.Proof(e.Seq).Void() != "": // by a key not known: it accepts nothing, and a record with it is as whole as before
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

// NotTheirs is why a person may not do what is for others of the plan.
type NotTheirs struct {
	By     string
	Theirs []string // ids of those whose it is
	words  string
}

func (n *NotTheirs) Error() string { return n.words }

// engineer is a person as one who decides: an engineer of the plan as it was last decided.
// The words say why another may not, with their role in the place of ROLE.
func (j *Job) engineer(by, words string) (*plan.Person, error) {
	p := j.Decided().Person(by)
	if p != nil && p.Role == "engineer" {
		return p, nil
	}
	role := "nobody"
	if p != nil {
		role = p.Role
	}
	return nil, j.notTheirs(by, false, strings.ReplaceAll(words, "ROLE", role))
}

// notTheirs says that something is for the engineers of the plan, or for its owners, too.
func (j *Job) notTheirs(by string, owners bool, words string) error {
	n := &NotTheirs{By: by, words: j.PersonName(by) + " " + words}
	for _, p := range j.Decided().People {
		if p.Role == "engineer" || owners && p.Role == "owner" {
			n.Theirs = append(n.Theirs, p.ID)
		}
	}
	return n
}
