package session

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// Entries are staged first: the job takes them up as they will stand in the book,
// and judges again what rests on them. Then all of them are stored as one.

// Stage takes drafts of one moment up into the job without storing them, and behind
// them the judgements that they change.
func (s *Session) Stage(drafts ...chain.Draft) error {
	s.rejudged = nil
	now := s.Env.Now()
	for _, d := range drafts {
		if d.At.IsZero() {
			d.At = now
		}
		if err := s.stageOne(d); err != nil {
			return err
		}
		if err := s.judgeAgain(s.counted(d)); err != nil {
			return err
		}
	}
	return nil
}

func (s *Session) stageOne(d chain.Draft) error {
	d.By = s.By
	if err := chain.PlainTexts(forPeople(d.Data)); err != nil {
		return fmt.Errorf("nothing was stored: %w", err)
	}
	e, err := chain.Seal(s.Job.Head(), d)
	if err != nil {
		return err
	}
	was := ""
	if d.Kind == report.EntryRead && s.Job.State(d.Check).Last() != nil {
		was = s.Job.State(d.Check).Last().Order
	}
	s.staged = append(s.staged, d)
	if err := s.Job.Add(e); err != nil {
		return err
	}
	return s.counts(d, was)
}

// forPeople is what of an entry is shown to people. A plan is kept as it was read, and what
// it says was looked at when it was loaded.
func forPeople(data any) any {
	if a, ok := data.(report.Amended); ok {
		a.Plan = ""
		return a
	}
	return data
}

// counts refuses an entry that the record itself would say does not count: what is read
// out of order, a step taken while its hold stands, a concession of nothing, a
// judgement that comes out otherwise. was is why the attempt was out of order before.
func (s *Session) counts(d chain.Draft, was string) error {
	switch data := d.Data.(type) {
	case report.Read:
		if why := s.Job.State(d.Check).Last().Order; why != was {
			return fmt.Errorf("check %s cannot be taken now: %s", d.Check, why)
		}
	case report.Stepped:
		step := s.Job.Steps[data.ID()]
		if len(step.Open) > 0 {
			return fmt.Errorf("hold %s: do not proceed: %s: %s", data.ID(), step.Open[0].Name(), step.Open[0].Why)
		}
		if step.Order != "" || step.Alone || len(step.Broken) > 0 {
			return fmt.Errorf("step %s: the plant or the record is not as it was a moment ago: look again with: %s", data.ID(), s.Env.Hint("status", s.Job.ID))
		}
	case report.Conceded:
		if d.Check == "" {
			return nil // what was found is looked at before the draft
		}
		if why := s.Job.State(d.Check).Concession.Void; why != "" {
			return errors.New(why)
		}
	case report.Amended:
		if why := s.Job.Amendments[len(s.Job.Amendments)-1].Void; why != "" {
			return fmt.Errorf("the plan is not amended: %s", why)
		}
	case report.Judged:
		if n := len(s.Job.Differs); n > 0 && strings.HasPrefix(s.Job.Differs[n-1], fmt.Sprintf("entry %d,", s.Job.Head().Seq)) {
			return fmt.Errorf("not stored, because it would not come out the same again: %s", s.Job.Differs[n-1])
		}
	}
	return nil
}

// counted is a draft that was staged last as it counts: of one that adopts an entry, that
// entry.
func (s *Session) counted(d chain.Draft) chain.Draft {
	if is, err := s.Job.Counts(s.Job.Head()); d.Kind == report.EntryAdopt && err == nil {
		d.Kind, d.Check = is.Kind, is.Check
	}
	return d
}

// because says why findings are judged again after an entry, "" where it changes none.
func because(d chain.Draft) string {
	switch d.Kind {
	case report.EntryCorrect:
		return "answers of " + d.Check + " were corrected"
	case report.EntryJudge:
		return d.Check + " was judged"
	case report.EntryStep:
		return "a step was done"
	case report.EntryUndo:
		return "a step was undone"
	case report.EntryAmend:
		return "the plan was amended"
	}
	return ""
}

// judgeAgain stages a new judgement of every finding that comes out otherwise after
// a draft was staged, in plan order, and of a check whose answers it corrected. Each
// is judged at its own time, as replay will.
func (s *Session) judgeAgain(d chain.Draft) error {
	why := because(d)
	if why == "" {
		return nil
	}
	for _, st := range s.Job.States {
		a := st.LastJudged()
		if a == nil || d.Kind == report.EntryJudge && st.Check.ID == d.Check {
			continue
		}
		is := report.NewJudged(st.Check.Kind, a.Number, checks.Judge(s.Job.Again(st)), why)
		corrected := d.Kind == report.EntryCorrect && a.Unjudged()
		if !corrected && !st.MustJudge() && report.SameJudgement(a.Told, is) {
			continue
		}
		s.rejudged = append(s.rejudged, st.Check.ID)
		if err := s.stageOne(chain.Draft{At: d.At, Kind: report.EntryJudge, Check: st.Check.ID, Data: is}); err != nil {
			return err
		}
	}
	return nil
}

// Commit stores what was staged, all or none. When another program added to the job
// meanwhile nothing is written, the job is read again and the error says so.
//
// It is the only way into the book: what breaks a rule that replay knows is not stored.
func (s *Session) Commit(ctx context.Context) error {
	staged := s.staged
	s.staged = nil
	if broken := s.Job.BreachesSince(s.seen); len(broken) > 0 {
		if again := s.Load(ctx, s.ID); again != nil {
			return again
		}
		return fmt.Errorf("nothing was stored: %s", broken[0].Words)
	}
	if s.DryRun {
		s.Env.Added(s.ID, s.Job.Entries[len(s.Job.Entries)-len(staged):]...)
		fmt.Fprintln(s.Env.Err, "  a dry run: nothing is stored")
		return nil
	}
	added, err := s.Book.Append(ctx, s.ID, s.seen, staged...)
	if err != nil {
		if again := s.Load(ctx, s.ID); again != nil {
			return again
		}
		return err
	}
	last := added[len(added)-1]
	if last.Hash != s.Job.Head().Hash { // what was stored is what counts
		s.Env.Added(s.ID, added...)
		return s.Load(ctx, s.ID)
	}
	if before := s.Job.Entries[len(s.Job.Entries)-len(added)-1]; added[0].At.Before(before.At) {
		fmt.Fprintf(s.Env.Err, "  the clock shows a time before the last entry (%s): entries keep their order, and the handover says so\n", before.At.Format("2006-01-02 15:04:05"))
	}
	s.seen = last.Seq
	s.Env.Added(s.ID, added...)
	return nil
}

// Add stores drafts of one moment durably, with the judgements they change, and
// takes them up into the job.
func (s *Session) Add(ctx context.Context, drafts ...chain.Draft) error {
	if err := s.Stage(drafts...); err != nil {
		s.staged = nil
		if again := s.Load(ctx, s.ID); again != nil {
			return again
		}
		return err
	}
	return s.Commit(ctx)
}

// Judgement is the entry that records what answers come to, judged at the moment in
// gives.
func (s *Session) Judgement(in checks.Input, attempt int) (checks.Finding, chain.Draft) {
	_, east := in.At.Zone() // as the record keeps it: judged by offset, not by place
	in.At = in.At.In(time.FixedZone("", east))
	f := checks.Judge(in)
	return f, chain.Draft{At: in.At, Kind: report.EntryJudge, Check: in.Check.ID, Data: report.NewJudged(in.Check.Kind, attempt, f, "")}
}

// Barred says why a reading of the check cannot be recorded now.
func (s *Session) Barred(c *plan.Check) error {
	if why := s.Job.OutOfOrder(c); why != "" {
		if way := s.Job.WayBack(c); way != "" {
			why += "; with: " + way
		}
		return Apart(fmt.Errorf("check %s cannot be taken now: %s", c.ID, why), Parts{Code: CodeOrder, Where: "check", Met: c.ID})
	}
	return nil
}

// SayJudgedAgain names the other checks that were judged again by what was stored
// last, with what they came to.
func (s *Session) SayJudgedAgain(but string) {
	s.judgedAgain(but, func(name string, kind *plan.Traits, f checks.Finding) {
		fmt.Fprintf(s.Env.Out, "%s:\n", name)
		PrintFinding(s.Env.Out, kind, f, Briefly)
	})
}

// TellJudgedAgain is SayJudgedAgain where a person works.
func (s *Session) TellJudgedAgain(but string) { s.judgedAgain(but, s.Env.tellFinding) }

func (s *Session) judgedAgain(but string, tell func(name string, kind *plan.Traits, f checks.Finding)) {
	for _, st := range s.Job.States {
		if st.Check.ID != but && slices.Contains(s.rejudged, st.Check.ID) {
			tell(fmt.Sprintf("%s, attempt %d, judged again", st.Check.ID, st.LastJudged().Number), st.Check.Kind, st.LastJudged().Finding)
		}
	}
}
