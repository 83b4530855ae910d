package cmd

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/records"
	"handback/report"
)

// Entries are staged first: the job takes them up as they will stand in the book,
// and judges again what rests on them. Then all of them are stored as one.

// stage takes drafts of one moment up into the job without storing them, and behind
// them the judgements that they change.
func (s *session) stage(drafts ...records.Draft) error {
	s.again = nil
	now := s.env.Now()
	for _, d := range drafts {
		if d.At.IsZero() {
			d.At = now
		}
		if err := s.stageOne(d); err != nil {
			return err
		}
		if err := s.judgeAgain(d); err != nil {
			return err
		}
	}
	return nil
}

func (s *session) stageOne(d records.Draft) error {
	d.By = s.by
	if err := records.PlainTexts(d.Data); err != nil {
		return fmt.Errorf("nothing was stored: %w", err)
	}
	e, err := records.Seal(s.job.Head(), d)
	if err != nil {
		return err
	}
	was := ""
	if d.Kind == report.KindRead && s.job.State(d.Check).Last() != nil {
		was = s.job.State(d.Check).Last().Order
	}
	s.staged = append(s.staged, d)
	if err := s.job.Add(e); err != nil {
		return err
	}
	return s.counts(d, was)
}

// counts refuses an entry that the record itself would say does not count: what is read
// out of order, a step taken while its hold stands, a concession of nothing, a
// judgement that comes out otherwise. was is why the attempt was out of order before.
func (s *session) counts(d records.Draft, was string) error {
	switch data := d.Data.(type) {
	case report.Read:
		if why := s.job.State(d.Check).Last().Order; why != was {
			return fmt.Errorf("check %s cannot be taken now: %s", d.Check, why)
		}
	case report.Stepped:
		step := s.job.Steps[data.Hold]
		if len(step.Open) > 0 {
			return fmt.Errorf("hold %s stands: %s: %s", data.Hold, step.Open[0].Check, step.Open[0].Why)
		}
	case report.Conceded:
		if why := s.job.State(d.Check).Concession.Void; why != "" {
			return errors.New(why)
		}
	case report.Judged:
		if n := len(s.job.Differs); n > 0 && strings.HasPrefix(s.job.Differs[n-1], fmt.Sprintf("entry %d,", s.job.Head().Seq)) {
			return fmt.Errorf("not stored, because it would not come out the same again: %s", s.job.Differs[n-1])
		}
	}
	return nil
}

// because says why findings are judged again after an entry, "" where it changes none.
func because(d records.Draft) string {
	switch d.Kind {
	case report.KindCorrect:
		return "answers of " + d.Check + " were corrected"
	case report.KindJudge:
		return d.Check + " was judged"
	case report.KindStep:
		return "a step was taken"
	case report.KindUndo:
		return "a step was undone"
	}
	return ""
}

// judgeAgain stages a new judgement of every finding that comes out otherwise after
// a draft was staged, in plan order, and of a check whose answers it corrected. Each
// is judged at its own time, as replay will.
func (s *session) judgeAgain(d records.Draft) error {
	why := because(d)
	if why == "" {
		return nil
	}
	for _, st := range s.job.States {
		a := st.Judged()
		if a == nil || d.Kind == report.KindJudge && st.Check.ID == d.Check {
			continue
		}
		is := report.NewJudged(st.Check.Kind, a.Number, checks.Judge(s.job.Again(st)), why)
		corrected := d.Kind == report.KindCorrect && st.Check.ID == d.Check
		if !corrected && report.SameJudgement(a.Told, is) {
			continue
		}
		s.again = append(s.again, st.Check.ID)
		if err := s.stageOne(records.Draft{At: d.At, Kind: report.KindJudge, Check: st.Check.ID, Data: is}); err != nil {
			return err
		}
	}
	return nil
}

// commit stores what was staged, all or none. When another program added to the job
// meanwhile nothing is written, the job is read again and the error says so.
func (s *session) commit(ctx context.Context) error {
	staged := s.staged
	s.staged = nil
	added, err := s.book.Append(ctx, s.job.ID, s.seen, staged...)
	if err != nil {
		if again := s.load(ctx, s.job.ID); again != nil {
			return again
		}
		return err
	}
	last := added[len(added)-1]
	if last.Hash != s.job.Head().Hash { // what was stored is what counts
		return s.load(ctx, s.job.ID)
	}
	if before := s.job.Entries[len(s.job.Entries)-len(added)-1]; added[0].At.Before(before.At) {
		fmt.Fprintf(s.env.Err, "  the clock stands before the last entry (%s): entries keep their order, the handover says so\n", before.At.Format("2006-01-02 15:04:05"))
	}
	s.seen = last.Seq
	return nil
}

// add stores drafts of one moment durably, with the judgements they change, and
// takes them up into the job.
func (s *session) add(ctx context.Context, drafts ...records.Draft) error {
	if err := s.stage(drafts...); err != nil {
		s.staged = nil
		if again := s.load(ctx, s.job.ID); again != nil {
			return again
		}
		return err
	}
	return s.commit(ctx)
}

// judgement is the entry that records what answers come to, judged at the moment in
// gives.
func (s *session) judgement(in checks.Input, attempt int) (checks.Finding, records.Draft) {
	_, east := in.At.Zone() // as the record keeps it: judged by offset, not by place
	in.At = in.At.In(time.FixedZone("", east))
	f := checks.Judge(in)
	return f, records.Draft{At: in.At, Kind: report.KindJudge, Check: in.Check.ID, Data: report.NewJudged(in.Check.Kind, attempt, f, "")}
}

// complete tells whether answers can be judged: all that is needed is there, or what
// is there stops the work already.
func complete(in checks.Input) bool {
	return len(missingKeys(in)) == 0 || len(in.StopsAtOnce()) > 0
}

// barred says why a reading of the check cannot be recorded now.
func (s *session) barred(c *checks.Check) error {
	if why := s.job.OutOfOrder(c); why != "" {
		if way := s.job.WayBack(c); way != "" {
			why += "; with: " + way
		}
		return fmt.Errorf("check %s cannot be taken now: %s", c.ID, why)
	}
	return nil
}

// sayJudgedAgain names the other checks that were judged again by what was stored
// last, with what they came to.
func (s *session) sayJudgedAgain(but string) {
	for _, st := range s.job.States {
		if st.Check.ID == but || !slices.Contains(s.again, st.Check.ID) {
			continue
		}
		a := st.Judged()
		fmt.Fprintf(s.env.Out, "%s, attempt %d, judged again:\n", st.Check.ID, a.Number)
		printFinding(s.env.Out, st.Check.Kind, a.Finding, briefly)
	}
}
