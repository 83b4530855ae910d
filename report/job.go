package report

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks"
	_ "handback/checks/kinds" // every kind registers itself
	"handback/checks/plan"
	"handback/records/chain"
)

// Job is a plan put to work, as its entries tell it.
type Job struct {
	ID       string
	Plan     *plan.Plan
	PlanHash string
	Opened   Opened
	OpenedAt time.Time
	By       string
	Entries  []chain.Entry
	States   []*State
	Steps    map[string]Step // by hold, those that stand
	Undos    []Undo          // steps that were undone, oldest first
	Bad      []BadMeter      // instruments found bad after they were used
	Notes    []Note

	Signatures []Signature // as recorded; CheckSignatures tells what they are worth

	Attachments []Attachment
	Files       func(hash string) ([]byte, error) // reads an attachment; nil when they are not at hand

	Differs []string // judgements that come out otherwise than they were recorded

	Hint func(words ...string) string // a command line to type, where errors tell one; nil for the plain one
}

// Note is words about the job, or about a check.
type Note struct {
	Seq             int
	At              time.Time
	By, Check, Text string
}

// Step is a hold's step that was taken.
type Step struct {
	Seq   int
	At    time.Time // when it was recorded
	Taken time.Time
	By    string
	Open  []Gap  // what the hold still waited for when it was recorded
	Order string // the hold point above it whose step was not taken by then
}

// Fold reads a job's entries, oldest first, into its state. Every judgement is
// made anew with what was known at its entry; one that comes out otherwise than
// recorded is named in Differs. The error names the entry that cannot be read.
func Fold(plan *plan.Plan, entries []chain.Entry) (*Job, error) {
	if len(entries) == 0 {
		return nil, fmt.Errorf("job has no entries")
	}
	j := newJob(plan)
	if err := j.Add(entries...); err != nil {
		return nil, err
	}
	return j, nil
}

// newJob is a job without entries.
func newJob(plan *plan.Plan) *Job {
	j := &Job{Plan: plan, Steps: map[string]Step{}}
	for _, c := range plan.Checks() {
		j.States = append(j.States, &State{Check: c})
	}
	return j
}

// Add takes up entries that follow the job's last, with what Fold would make of them
// all. After an error the job is of no use: some of the entries may be in it.
func (j *Job) Add(entries ...chain.Entry) error {
	for _, e := range entries {
		if (len(j.Entries) == 0) != (e.Kind == EntryOpen) {
			return fmt.Errorf("job %s entry %d: kind %s does not belong there", e.Job, e.Seq, e.Kind)
		}
		j.Entries = append(j.Entries, e)
		if err := j.apply(e); err != nil {
			return fmt.Errorf("job %s entry %d (%s): %w", e.Job, e.Seq, e.Kind, err)
		}
	}
	return nil
}

func (j *Job) apply(e chain.Entry) error {
	switch e.Kind {
	case EntryOpen:
		o, err := Decode[Opened](e)
		j.ID, j.Opened, j.OpenedAt, j.By, j.PlanHash = e.Job, o, e.At, e.By, o.PlanHash
		return err
	case EntryStep:
		s, err := Decode[Stepped](e)
		if err != nil {
			return err
		}
		taken, err := time.Parse(time.RFC3339, s.Taken)
		h := j.Plan.Hold(s.Hold)
		if err != nil || h == nil {
			return fmt.Errorf("hold %q taken %q: not a hold of the plan at a time", s.Hold, s.Taken)
		}
		step := Step{Seq: e.Seq, At: e.At, Taken: taken, By: e.By, Open: j.Gaps(h, taken)}
		if above := j.HoldBefore(s.Hold); above != nil {
			step.Order = above.ID
		}
		j.Steps[s.Hold] = step
		return nil
	case EntryUndo:
		u, err := Decode[Undone](e)
		if err != nil {
			return err
		}
		return j.undo(e, u)
	case EntryBad:
		b, err := Decode[FoundBad](e)
		if err != nil {
			return err
		}
		since, err := time.Parse(time.RFC3339, b.Since)
		if err != nil {
			return err
		}
		j.Bad = append(j.Bad, BadMeter{e.Seq, e.At, e.By, b.Serial, since, b.Why})
		return nil
	case EntryNote:
		n, err := Decode[Noted](e)
		j.Notes = append(j.Notes, Note{e.Seq, e.At, e.By, e.Check, n.Text})
		return err
	case EntryAttach:
		return j.attach(e)
	case EntrySign:
		s, err := Decode[Signed](e)
		signature := newSignature(e, s)
		signature.Kept = j.documentsBefore(e.Seq)
		j.Signatures = append(j.Signatures, signature)
		return err
	}
	s := j.State(e.Check)
	if s == nil {
		return fmt.Errorf("check %q is not in the plan", e.Check)
	}
	return j.applyCheck(s, e)
}

func (j *Job) applyCheck(s *State, e chain.Entry) error {
	switch e.Kind {
	case EntryRead:
		r, err := Decode[Read](e)
		if err != nil {
			return err
		}
		return j.read(s, e, r)
	case EntryJudge:
		r, err := Decode[Judged](e)
		if err != nil {
			return err
		}
		return j.judge(s, e, r)
	case EntryCorrect:
		c, err := Decode[Corrected](e)
		if err != nil {
			return err
		}
		if err := s.correct(e, c); err != nil {
			return err
		}
		made := s.Last().Corrections
		j.correctCopies(s, made[len(made)-len(c.Answers):])
		return nil
	case EntrySkip:
		k, err := Decode[Skipped](e)
		s.Skip = &Skip{e.Seq, e.At, e.By, k.Why}
		return err
	case EntryConcede:
		c, err := Decode[Conceded](e)
		if err != nil {
			return err
		}
		if c.Attempt < 1 || c.Attempt > len(s.Attempts) || !s.Attempts[c.Attempt-1].Judged {
			return fmt.Errorf("attempt %d was not judged", c.Attempt)
		}
		s.Concession = &Concession{e.Seq, e.At, e.By, c.Engineer, c.Attempt, c.Verdict, c.Stop, c.Reason, ""}
		if err := j.MayAccept(s, c.Engineer, c.Reason); err != nil {
			s.Concession.Void = err.Error()
		}
		s.Concessions = append(s.Concessions, s.Concession)
		return nil
	}
	return fmt.Errorf("kind is not known")
}

func (j *Job) read(s *State, e chain.Entry, r Read) error {
	last := s.Last()
	kept := checks.Answers{}
	if anyCarried(r.Answers) {
		kept = j.MayKeep(s, e.At)
	}
	switch {
	case last == nil && r.Attempt == 1, last != nil && last.Judged && r.Attempt == last.Number+1:
		a := &Attempt{Number: r.Attempt, Answers: checks.Answers{}, By: e.By, Why: r.Why, PastHold: r.PastHold, First: e.At}
		s.Attempts = append(s.Attempts, a)
	case last == nil || last.Judged || r.Attempt != last.Number:
		return fmt.Errorf("attempt %d does not follow", r.Attempt)
	}
	a := s.Last()
	if why := j.OutOfOrder(s.Check); a.Order == "" {
		a.Order = why
	}
	if h := j.HoldAbove(s.Check.ID); h != nil && a.PastHold == "" && a.Order == "" {
		a.Order = fmt.Sprintf("the step of hold %s above it was not taken", h.ID)
	}
	in := j.attemptInput(s, a)
	in.At = e.At
	if why := j.miscarried(in, r.Answers, kept); why != "" && a.Order == "" {
		a.Order = why
	}
	a.Answers = in.With(r.Answers).Answers
	a.Lines = append(a.Lines, Line{e.Seq, e.At, e.By, r.Answers})
	s.Skip = nil
	return nil
}

// undo takes a step back: its hold point closes again.
func (j *Job) undo(e chain.Entry, u Undone) error {
	done, err := time.Parse(time.RFC3339, u.Done)
	if err != nil {
		return err
	}
	if _, taken := j.Steps[u.Hold]; !taken {
		return fmt.Errorf("the step of hold %q was not taken: there is nothing to undo", u.Hold)
	}
	delete(j.Steps, u.Hold)
	j.Undos = append(j.Undos, Undo{e.Seq, e.At, u.Hold, done, e.By, u.Why})
	return nil
}

func (j *Job) judge(s *State, e chain.Entry, r Judged) error {
	a := s.Last()
	if a == nil || a.Number != r.Attempt {
		return fmt.Errorf("attempt %d was not read", r.Attempt)
	}
	if !a.Judged {
		a.At, a.JudgedFirst, a.known = e.At, e.Seq, j.Before(s.Check.ID)
	}
	a.before, a.steps = j.Before(s.Check.ID), j.taken()
	a.Finding = checks.Judge(j.input(s.Check, a))
	a.Judged, a.Seq, a.Recorded = true, e.Seq, r
	a.Told = judgedAs(r, s.Check.Kind, a.Number, a.Finding, "")
	if diff := differs(r, a.Told); diff != "" {
		j.Differs = append(j.Differs, fmt.Sprintf("entry %d, check %s attempt %d: %s", e.Seq, s.Check.ID, a.Number, diff))
	}
	return nil
}

// differs says how two judgements of the same answers differ, "" when they agree
// in verdict, stop, reasons and values to 1e-9. Words are not looked at.
func differs(was, is Judged) string {
	if was.Verdict != is.Verdict {
		return fmt.Sprintf("recorded as %s, judged again it comes to %s", was.Verdict, is.Verdict)
	}
	if (was.Stop == nil) != (is.Stop == nil) || was.Stop != nil && !was.Stop.Same(is.Stop.Said) {
		return fmt.Sprintf("recorded stop %q, judged again %q", was.Stopping(), is.Stopping())
	}
	if len(was.Reasons) != len(is.Reasons) {
		return fmt.Sprintf("recorded with %d reasons, judged again with %d", len(was.Reasons), len(is.Reasons))
	}
	for i, r := range is.Reasons {
		if w := was.Reasons[i]; !r.same(w) {
			return fmt.Sprintf("recorded reason %d as %s %s (%s), judged again it is %s %s (%s)", i+1, w.Verdict, w.Code, w.Words, r.Verdict, r.Code, r.Words)
		}
	}
	for _, k := range slices.Sorted(maps.Keys(was.Values)) {
		x, ok := is.Values[k]
		if w := was.Values[k]; !ok || !checks.SameNumber(x, w) {
			return fmt.Sprintf("recorded %s as %v, worked out again it is %v", k, w, x)
		}
	}
	return ""
}

func (s *State) correct(e chain.Entry, c Corrected) error {
	a := s.Last()
	if a == nil || !a.Judged || a.Number != c.Attempt {
		return fmt.Errorf("attempt %d was not judged", c.Attempt)
	}
	for _, k := range slices.Sorted(maps.Keys(c.Answers)) {
		a.Corrections = append(a.Corrections, Correction{e.Seq, e.At, e.By, k, a.Answers[k], c.Answers[k], c.Why})
		a.Answers[k] = c.Answers[k]
	}
	return nil
}

// State finds what became of a check, nil for a check the plan has not.
func (j *Job) State(check string) *State {
	for _, s := range j.States {
		if s.Check.ID == check {
			return s
		}
	}
	return nil
}

// Before is what the checks above the named one have come to so far.
func (j *Job) Before(check string) map[string]checks.Past {
	out := map[string]checks.Past{}
	for _, s := range j.States {
		if s.Check.ID == check {
			break
		}
		if a := s.LastJudged(); a != nil {
			out[s.Check.ID] = checks.Past{Answers: maps.Clone(a.Answers), Finding: a.Finding, At: a.At}
		}
	}
	return out
}

// taken are the steps recorded so far, by hold, with their times.
func (j *Job) taken() map[string]time.Time {
	out := map[string]time.Time{}
	for id, s := range j.Steps {
		out[id] = s.Taken
	}
	return out
}

func (j *Job) input(c *plan.Check, a *Attempt) checks.Input {
	return checks.Input{Plan: j.Plan, Check: c, Answers: a.Answers, Before: a.before, At: a.At, Steps: a.steps}
}

// Input is what the newest attempt of a check is judged from: its answers, or
// none when the next attempt has not begun, with what is known now.
func (j *Job) Input(c *plan.Check, now time.Time) checks.Input {
	in := checks.Input{Plan: j.Plan, Check: c, Answers: checks.Answers{}, Before: j.Before(c.ID), At: now, Steps: j.taken()}
	if a := j.State(c.ID).Last(); a != nil && !a.Judged {
		in.Answers = maps.Clone(a.Answers)
	}
	return in
}

// Again is the input of a judged attempt as it would be judged now, after a
// correction of its own answers or of an earlier check's.
func (j *Job) Again(s *State) checks.Input {
	a := s.LastJudged()
	return checks.Input{Plan: j.Plan, Check: s.Check, Answers: a.Answers, Before: j.Before(s.Check.ID), At: a.At, Steps: j.taken()}
}

// Head is the newest entry.
func (j *Job) Head() chain.Entry { return j.Entries[len(j.Entries)-1] }

// PersonName is the full name of a person of the plan, or the id itself.
func (j *Job) PersonName(id string) string {
	if p := j.Plan.Person(id); p != nil {
		return p.Name
	}
	return id
}

// Finite tells whether x is a number: neither NaN nor infinite.
func Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// SameJudgement tells whether two judgements agree in verdict, stop and values.
func SameJudgement(a, b Judged) bool { return differs(a, b) == "" }

// CommandLine is the command line that an error tells to type.
func (j *Job) CommandLine(words ...string) string {
	if j.Hint == nil {
		return "handback " + strings.Join(words, " ")
	}
	return j.Hint(words...)
}
