package report

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"handback/checks"
	_ "handback/checks/kinds" // every kind registers itself
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report/fork"
	"handback/report/history"
)

// Job is a plan put to work, as its entries tell it.
type Job struct {
	ID       string
	Plan     *plan.Plan // in force: as opened, or as amended last
	PlanHash string     // of the plan as opened
	Opened   Opened
	OpenedAt time.Time
	By       string
	Entries  []chain.Entry
	States   []*State
	Steps    map[string]Step // by id, those that stand
	Done     []Step          // every step that was ever done, oldest first
	Left     []Left          // plain steps that were left, oldest first
	Found    []Found         // devices found otherwise, oldest first
	Undos    []Undo          // steps that were undone, oldest first
	Bad      []BadMeter      // instruments found bad after they were used
	Notes    []Note
	Defects  []*Defect // by number
	Remarks  []*Remark // of reviews, by number
	Reviews  []Review  // oldest first

	Amendments []*Amendment // of the plan, oldest first
	TakenOut   []*State     // checks that amendments took out of the plan
	first      *plan.Plan   // as opened; nil while it is in force

	proofs map[int]Proof // of the acceptances, by entry

	amendFaults map[int]string // by entry: amendments, acceptances of the plan and words of a review that no command writes

	Signatures []Signature // as recorded; CheckSignatures tells what they are worth

	Attachments []Attachment
	Files       func(hash string) ([]byte, error) // reads an attachment; nil when they are not at hand

	Differs []string // judgements that come out otherwise than they were recorded

	Lines []chain.Line // the other continuations of the job that are at hand
	Joins []Joining    // of other continuations, oldest first
	known []fork.Fork  // of a job as it stood earlier: its forks then

	adopted []chain.Entry       // those that adopt an entry of another continuation, oldest first
	as      map[int]chain.Entry // by their numbers, what they adopt as it counts here

	plant *plantNow // nil for a plan without a network

	log   *history.Log         // what the checks came to
	order *history.Order       // of the checks of the plan in force
	steps map[string]time.Time // the steps recorded so far, nil when not listed since the last; read only
	back  []time.Duration      // by how much the clock was set back up to each entry
	data  []any                // of the entries, as far as it was decoded

	recorded bool       // findings are taken as they were recorded
	believed []believed // those that were
	wrong    bool       // one of those would come out otherwise

	ruled    [2]int   // entries that were held against the rules, and continuations that were at hand
	breaches []Breach // that came of it

	Hint func(words ...string) string // a command line to type, where errors tell one; nil for the plain one
}

// Note is words about the job, or about a check.
type Note struct {
	Seq             int
	At              time.Time
	By, Check, Text string
}

// newJob is a job without entries.
func newJob(p *plan.Plan) *Job {
	j := &Job{Plan: p, Steps: map[string]Step{}, amendFaults: map[int]string{}, log: &history.Log{}}
	for _, c := range p.Checks() {
		j.States = append(j.States, &State{Check: c})
	}
	j.inOrder()
	j.layPlant()
	return j
}

// Add takes up entries that follow the job's last, with what Fold would make of them
// all. After an error the job is of no use: some of the entries may be in it.
func (j *Job) Add(entries ...chain.Entry) error {
	for _, e := range entries {
		if err := j.take(e, append(j.Entries, e)); err != nil {
			return err
		}
	}
	return nil
}

// take takes up one entry, the last of all.
func (j *Job) take(e chain.Entry, all []chain.Entry) error {
	if (len(j.Entries) == 0) != (e.Kind == EntryOpen) {
		return fmt.Errorf("job %s, entry %d: kind %s does not belong there", e.Job, e.Seq, e.Kind)
	}
	j.back = append(j.back, j.setBackBy(e))
	j.Entries = all
	if err := j.apply(e); err != nil {
		return fmt.Errorf("job %s, entry %d (%s): %w", e.Job, e.Seq, e.Kind, err)
	}
	return nil
}

func (j *Job) apply(e chain.Entry) error {
	if e.Kind == EntryAdopt || e.Kind == EntryJoin {
		return j.join(e)
	}
	switch e.Kind {
	case EntryOpen:
		o, err := Decode[Opened](e)
		j.ID, j.Opened, j.OpenedAt, j.By, j.PlanHash = e.Job, o, e.At, e.By, o.PlanHash
		return err
	case EntryStep, EntryUndo, EntryLeft, EntryFound:
		return j.applyStep(e)
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
		for _, s := range j.States {
			j.proves(s, true)
		}
		return nil
	case EntryNote:
		n, err := Decode[Noted](e)
		j.Notes = append(j.Notes, Note{e.Seq, e.At, e.By, e.Check, n.Text})
		return err
	case EntryAmend:
		return j.amend(e)
	case EntryAccept:
		return j.accept(e)
	case EntryConcede:
		if e.Check == "" {
			return j.acceptFound(e)
		}
	case EntryDefect:
		return j.raise(e)
	case EntryClose:
		return j.closeDefect(e)
	case EntryRemark, EntryAnswer, EntryWithdraw, EntryReview:
		return j.review(e)
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
		r, err := dataOf[Read](j, e)
		if err != nil {
			return err
		}
		return j.read(s, e, r)
	case EntryJudge:
		r, err := dataOf[Judged](j, e)
		if err != nil {
			return err
		}
		return j.judge(s, e, r)
	case EntryCorrect:
		c, err := dataOf[Corrected](j, e)
		if err != nil {
			return err
		}
		if err := s.correct(e, c); err != nil {
			return err
		}
		j.came(s)
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
		return j.concede(s, e, c)
	}
	return fmt.Errorf("kind is not known")
}

func (j *Job) concede(s *State, e chain.Entry, c Conceded) error {
	switch {
	case c.Skip > 0 && (s.Skip == nil || s.Skip.Seq != c.Skip || c.Attempt != 0):
		return fmt.Errorf("the skip of entry %d does not stand", c.Skip)
	case c.Skip == 0 && (c.Attempt < 1 || c.Attempt > len(s.Attempts) || !s.Attempts[c.Attempt-1].Judged):
		return fmt.Errorf("attempt %d was not judged", c.Attempt)
	}
	x := &Concession{Seq: e.Seq, At: e.At, By: e.By, Engineer: c.Engineer, Attempt: c.Attempt, Verdict: c.Verdict, Stop: c.Stop, Reason: c.Reason, Skip: c.Skip}
	x.Void = j.prove(e, c, j.accepting(s, c)).Void()
	if err := j.MayAccept(s, c.Engineer, c.Reason); err != nil {
		x.Void = err.Error()
	}
	s.Concession = x
	s.Concessions = append(s.Concessions, x)
	return nil
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
		a.Order = fmt.Sprintf("the step of hold %s above it was not done", h.ID)
	}
	a.plan, a.check = nil, nil
	in := j.attemptInput(s, a)
	in.At = e.At
	if why := j.miscarried(in, r.Answers, kept); why != "" && a.Order == "" {
		a.Order = why
	}
	a.Answers = in.With(r.Answers).Answers
	a.Lines = append(a.Lines, Entered{e.Seq, e.At, e.By, keyed(r.Answers)})
	r.Answers = nil // they are in the line
	j.keepData(e, r)
	s.Skip = nil
	return nil
}

func (j *Job) judge(s *State, e chain.Entry, r Judged) error {
	a := s.Last()
	if a == nil || a.Number != r.Attempt {
		return fmt.Errorf("attempt %d was not read", r.Attempt)
	}
	if !a.Judged {
		a.At, a.JudgedFirst, a.known = j.judgedAs(a, e.At), e.Seq, j.Before(s.Check.ID)
	}
	passed := a.Judged && a.Finding.Verdict == checks.Pass
	a.before, a.steps, a.plan, a.check = j.Before(s.Check.ID), j.taken(), nil, nil
	a.Judged, a.Seq, a.Recorded, a.form = true, e.Seq, r, nil
	a.Lines = slices.Clip(append(make([]Entered, 0, len(a.Lines)), a.Lines...))
	if in := j.input(s, a); j.believes(s.Check) {
		a.Finding, a.Told = foundAs(r, in), r
		a.Told.Because = ""
		j.believed = append(j.believed, believed{in: in, was: r})
	} else {
		if j.recorded {
			in.Before = resting{in.Before, j}
		}
		a.Finding = checks.Judge(in)
		a.Told = judgedAs(r, s.Check.Kind, a.Number, a.Finding, "")
		if diff := differs(r, a.Told); diff != "" {
			j.Differs = append(j.Differs, fmt.Sprintf("entry %d, check %s attempt %d: %s", e.Seq, s.Check.ID, a.Number, diff))
		}
		a.Recorded = r.keptAs(a.Told)
		j.keepData(e, a.Recorded)
	}
	j.came(s)
	j.proves(s, passed)
	return nil
}

// State finds what became of a check, nil for a check the plan has not.
func (j *Job) State(check string) *State {
	if at, ok := j.order.Place(check); ok {
		return j.States[at]
	}
	return nil
}

// inOrder takes up the order of the checks, after the plan gave them another.
func (j *Job) inOrder() {
	j.order = &history.Order{}
	for _, s := range j.States {
		j.order.Put(s.Check.ID, &s.past)
	}
}

// Before is what the checks above the named one have come to so far.
func (j *Job) Before(check string) checks.Earlier { return j.order.Above(check, j.log) }

// came notes what a check comes to by now, after it was judged or its answers were put right.
func (j *Job) came(s *State) {
	a := s.LastJudged()
	s.past.Add(j.log, checks.Past{Answers: a.Answers.There(), Finding: a.Finding, At: a.At})
}

// taken are the steps recorded so far, by id, with their times. They are read only: every
// judgement since the newest step has the same.
func (j *Job) taken() map[string]time.Time {
	if j.steps == nil {
		j.steps = map[string]time.Time{}
		for id, s := range j.Steps {
			j.steps[id] = s.Taken
		}
	}
	return j.steps
}

// input is what an attempt is judged from, by the plan it was judged by.
func (j *Job) input(s *State, a *Attempt) checks.Input {
	p, c := j.Plan, s.Check
	if a.plan != nil {
		p, c = a.plan, a.check
	}
	return checks.Input{Plan: p, Check: c, Answers: a.Answers, Before: a.before, At: a.At, Steps: a.steps}
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

// correctable is what an attempt is judged from once an answer of it is put right, nil of
// one that takes no correction.
func (j *Job) correctable(s *State, a *Attempt) *checks.Input {
	if a != s.Last() || !a.Judged || a.Unjudged() {
		return nil
	}
	return new(j.Again(s))
}

// Head is the newest entry.
func (j *Job) Head() chain.Entry { return j.Entries[len(j.Entries)-1] }

// Identifier tells the job from every other, of this book and of all: the hash of its
// first entry, which holds a random text. Ids are given by each book for itself.
func (j *Job) Identifier() string { return j.Entries[0].Hash }

// PersonName is the full name of a person of the plan, or the id itself.
func (j *Job) PersonName(id string) string {
	if p := j.Plan.Person(id); p != nil {
		return p.Name
	}
	return id
}
