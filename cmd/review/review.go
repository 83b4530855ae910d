// Package review leads an engineer through the points of a job, one after another: what did
// not pass, what was kept, left, changed or noted, with what it was judged by.
//
// A reviewer shows a point and asks for a word: accept, order, ask, say or withdraw make an
// entry, next leaves the point as it is. What is decided is stored before the next question,
// together with the points that were looked at by then; what is left of those goes into the
// record at the end.
package review

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/review"
)

// Options say which job is reviewed, who reviews it, and which check alone is looked at.
type Options struct {
	Env            *session.Env
	Job, By, Check string
	All            bool // what was looked at before, too

	// Sign shows what is accepted to the engineer and signs it; ErrNoKey where there is no key.
	Sign  func(context.Context, *session.Session, *session.Lines, chain.Acceptance) (*report.Signed, error)
	Keyed bool // a key was named: what needs no signature is signed with it, too
}

// ErrNoKey is that of an engineer whose key is elsewhere.
var ErrNoKey = errors.New("no key is at hand")

type reviewer struct {
	*session.Session
	o      *Options
	in     *session.Lines
	points []review.Point
	at     int
	looked []report.Looked // and not in the record yet
	seen   map[report.Looked]bool
}

var errQuit = errors.New("quit")

// Run leads through the points until they end, or the engineer or the input leaves them.
func Run(ctx context.Context, o *Options) error {
	s, err := session.OpenWrite(ctx, o.Env, o.Job, o.By)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := s.Job.MayReview(s.By); err != nil {
		return err
	}
	r := &reviewer{Session: s, o: o, in: session.NewLines(o.Env), seen: map[report.Looked]bool{}}
	before := 0
	if o.Check != "" {
		if _, err := s.Check(o.Check); err != nil {
			return err
		}
		r.points = []review.Point{review.Of(s.Job, o.Check)}
	} else {
		for _, p := range review.Points(s.Job, o.Env.Now(), s.By) {
			r.seen[p.Looked] = !p.New
			if p.New || o.All {
				r.points = append(r.points, p)
			} else {
				before++
			}
		}
	}
	r.in.Say("%s, as %s; type help for the words you can type\n", s.Job.ID, s.Job.PersonName(s.By))
	if before > 0 {
		r.in.Say("looked at before: %s; those too: review --all\n", report.Count(before, "point", "points"))
	}
	return r.leave(ctx, r.all(ctx))
}

// all shows one point after another.
func (r *reviewer) all(ctx context.Context) error {
	for r.at < len(r.points) {
		r.show(r.points[r.at])
		for here := r.at; r.at == here; {
			typed, err := r.in.Prompt(ctx, "  "+r.offer(r.points[r.at])+"ask TEXT, say TEXT, next, back, list, quit: ")
			if err != nil {
				return err
			}
			if err := r.word(ctx, typed); err != nil {
				return err
			}
		}
	}
	return nil
}

// leave stores what was looked at, and says what stands.
func (r *reviewer) leave(ctx context.Context, err error) error {
	if err != nil && !errors.Is(err, errQuit) && !errors.Is(err, io.EOF) {
		return err
	}
	if again := r.store(ctx, func() ([]chain.Draft, error) { return nil, nil }); again != nil {
		return again
	}
	left := 0
	for _, p := range r.points {
		if !r.seen[p.Looked] {
			left++
		}
	}
	if left > 0 {
		fmt.Fprintf(r.Env.Err, "not looked at: %s; go on with: %s\n", report.Count(left, "point", "points"), r.Env.Hint("review", r.Job.ID, "--by", r.By))
	}
	for _, text := range r.Job.StandingRemarks() {
		fmt.Fprintf(r.Env.Out, "open: %s\n", text)
	}
	if left == 0 {
		fmt.Fprintf(r.Env.Out, "end of the review of %s\n", r.Job.ID)
	}
	return nil
}

// store adds the entries that make gives, with the points that were looked at by now. When
// somebody else added to the job meanwhile, make is asked again.
func (r *reviewer) store(ctx context.Context, make func() ([]chain.Draft, error)) error {
	for {
		drafts, err := make()
		if err != nil {
			return err
		}
		if len(r.looked) > 0 {
			drafts = append(drafts, chain.Draft{Kind: report.EntryReview, Data: report.Reviewed{Points: r.looked}})
		}
		if len(drafts) == 0 {
			return nil
		}
		err = r.Add(ctx, drafts...)
		var moved *records.MovedError
		if errors.As(err, &moved) {
			continue // Commit has read what they added
		}
		if err == nil {
			r.looked = nil
		}
		return err
	}
}

// look remembers that the point at hand was looked at. A check that was asked for by its
// name is no point that anybody comes back to.
func (r *reviewer) look() {
	l := r.points[r.at].Looked
	if !r.seen[l] && l.What != review.WhatCheck {
		r.looked = append(r.looked, l)
	}
	r.seen[l] = true
}

// word does what was typed at a point.
func (r *reviewer) word(ctx context.Context, typed string) error {
	word, rest, _ := strings.Cut(typed, " ")
	rest = strings.TrimSpace(rest)
	p := r.points[r.at]
	switch word = strings.ToLower(word); {
	case word == "accept":
		return r.accept(ctx, p, rest)
	case word == "order":
		return r.remark(ctx, p, report.RemarkOrder, rest)
	case word == "ask":
		return r.remark(ctx, p, report.RemarkQuestion, rest)
	case word == "say":
		return r.remark(ctx, p, report.RemarkComment, rest)
	case word == "withdraw":
		return r.withdraw(ctx, rest)
	case rest != "":
		r.unknown(typed)
	case word == "next" || word == "":
		r.look()
		r.at++
	case word == "back" && r.at == 0:
		r.in.Refuse("  this is the first point\n")
	case word == "back":
		r.at--
	case word == "list":
		r.list()
	case word == "quit":
		return errQuit
	case word == "help" || word == "?":
		r.in.Say("%s", help)
	default:
		r.unknown(typed)
	}
	return nil
}

const help = `  accept WHY      accept what the check came to, a skip, a device found otherwise, or the plan as amended
  order WHY       the check or the step is taken again; what lies below waits for it
  ask TEXT        a question; what lies below waits for the answer
  say TEXT        a comment; nothing waits for it
  withdraw N WHY  take back your order or question of this number
  next, or Enter  leave the point as it is; it is remembered as looked at
  back            the point before
  list            all points, and where you are
  quit            leave; review goes on from here
`

func (r *reviewer) unknown(typed string) {
	r.in.Refuse("  %q is not known here: type accept WHY, order WHY, ask TEXT, say TEXT, next, back, list or quit\n", typed)
	r.in.Again(typed, "")
}

// offer names accept where a point waits for it, and order where there is something to repeat.
func (r *reviewer) offer(p review.Point) string {
	said, s := "", r.Job.State(p.Check)
	waits := s != nil && (p.Attempt > 0 || s.Skip != nil) || p.What == report.FlagAmended || p.What == report.FlagFound
	if waits && r.newer(p) == nil && (p.Open || p.What == review.WhatCheck && s.Verdict() != checks.Pass) {
		said += "accept WHY, "
	}
	if p.Check+p.Step != "" {
		said += "order WHY, "
	}
	return said
}

// newer is the attempt that counts in the place of the one that a point stands on, nil for
// none.
func (r *reviewer) newer(p review.Point) *report.Attempt {
	if s := r.Job.State(p.Check); s != nil && p.Attempt > 0 && s.Skip == nil && s.LastJudged().Number > p.Attempt {
		return s.LastJudged()
	}
	return nil
}

// accept accepts what a point stands on, as the command of that name does.
func (r *reviewer) accept(ctx context.Context, p review.Point, why string) error {
	what := p.Check
	for _, f := range r.Job.Found {
		if f.Seq == p.Entry && p.Check == "" {
			what = f.Device
		}
	}
	if what == "" && p.What == report.FlagAmended && p.Open {
		return r.acceptPlan(ctx, p.Entry, why)
	}
	if what == "" {
		r.in.Refuse("  there is no finding here to accept: ask, say or next\n")
		return nil
	}
	if newer := r.newer(p); newer != nil { // it would be accepted, and this one is shown
		r.in.Refuse("  attempt %d, which this is about, counts no longer: attempt %d came to %s\n", p.Attempt, newer.Number, newer.Finding.Verdict)
		return nil
	}
	signed, err := r.signed(ctx, what, why)
	if err != nil {
		return r.unsigned(ctx, err, "accept", r.Job.ID, what, "--by", r.By, "--why", why, "--unsigned", "--output", what+".json")
	}
	said := ""
	return r.decide(ctx, true, func() (chain.Draft, error) {
		a, data, err := r.Acceptance(what, r.By, why)
		if err != nil {
			return chain.Draft{}, err
		}
		said = r.AcceptedWords(a, data)
		if data.Signed = signed; signed != nil {
			proof := r.Job.Prove(signed, a)
			if doubt := proof.Doubt(); doubt != "" {
				return chain.Draft{}, fmt.Errorf("not accepted: %s", doubt) // somebody added to the job meanwhile
			}
			said += "; " + proof.Words()
		}
		return session.AcceptanceDraft(a, data), r.Again(a, data)
	}, func() string { return said })
}

// acceptPlan accepts the plan as it was amended, as amend --accept does; at its newest
// amendment, so that none is accepted with it which comes later in the review.
func (r *reviewer) acceptPlan(ctx context.Context, entry int, why string) error {
	if newest := r.Job.Amendments[len(r.Job.Amendments)-1].Seq; newest != entry {
		r.in.Refuse("  entry %d amended the plan again: accept it there, with all before it\n", newest)
		return nil
	}
	a := r.Job.AcceptingPlan(r.By, why)
	a.At = r.Env.Now().Truncate(time.Second)
	err := r.Job.MayAcceptPlan(r.By, why)
	var signed *report.Signed
	if err == nil && (r.Job.PlanByKey(r.Job.Plan) || r.o.Keyed) {
		signed, err = r.o.Sign(ctx, r.Session, r.in, a)
	}
	if err != nil {
		return r.unsigned(ctx, err, "amend", r.Job.ID, "--accept", "--by", r.By, "--why", why, "--unsigned", "--output", "plan.json")
	}
	said := ""
	return r.decide(ctx, true, func() (chain.Draft, error) {
		if r.Job.Force() != a.PlanHash {
			return chain.Draft{}, errors.New("not accepted: the plan was amended again meanwhile")
		}
		said = "the plan as amended: accepted by " + r.Job.PersonName(r.By) + ": " + why
		if signed != nil {
			proof := r.Job.Prove(signed, a)
			if doubt := proof.Doubt(); doubt != "" {
				return chain.Draft{}, fmt.Errorf("not accepted: %s", doubt)
			}
			said += "; " + proof.Words()
		}
		return chain.Draft{Kind: report.EntryAccept, Data: report.AcceptedPlan{PlanHash: a.PlanHash, Reason: why, Signed: signed}}, r.Job.MayAcceptPlan(r.By, why)
	}, func() string { return said })
}

// unsigned says why nothing was signed, and where no key is at hand which command writes it
// out to be signed elsewhere.
func (r *reviewer) unsigned(ctx context.Context, err error, elsewhere ...string) error {
	switch {
	case errors.Is(err, ErrNoKey):
		r.in.Refuse("  signed elsewhere: it is written out, and taken in, as this says: %s\n", r.Env.Hint(elsewhere...))
	case ctx.Err() != nil || errors.Is(err, io.EOF):
		return err
	default:
		r.in.Refuse("  %v\n", err)
	}
	return nil
}

// signed is what the engineer signs of an acceptance, nil where nothing is signed.
func (r *reviewer) signed(ctx context.Context, what, why string) (*report.Signed, error) {
	a, data, err := r.Acceptance(what, r.By, why)
	if err == nil {
		err = chain.PlainTexts(data)
	}
	if err != nil || !r.Job.SignsAcceptances() && !r.o.Keyed {
		return nil, err
	}
	a.At = r.Env.Now().Truncate(time.Second)
	return r.o.Sign(ctx, r.Session, r.in, a)
}

// remark orders a repeat of the check or step of a point, asks or comments.
func (r *reviewer) remark(ctx context.Context, p review.Point, sort, text string) error {
	return r.decide(ctx, sort == report.RemarkOrder, func() (chain.Draft, error) {
		step := p.Step
		if p.Check != "" {
			step = ""
		}
		data := r.Job.NewRemark(sort, p.Check, step, p.Entry, text)
		return chain.Draft{Kind: report.EntryRemark, Check: p.Check, Data: data}, r.Job.MayRemark(r.By, p.Check, data)
	}, func() string {
		is := r.Job.Remarks[len(r.Job.Remarks)-1]
		return r.Job.PlacedWords(is)
	})
}

// withdraw takes back an order or a question: its number, and why.
func (r *reviewer) withdraw(ctx context.Context, rest string) error {
	number, why, _ := strings.Cut(rest, " ")
	n, err := strconv.Atoi(number)
	if err != nil {
		r.in.Refuse("  withdraw takes a number and a reason: withdraw 2 WHY\n")
		return nil
	}
	return r.decide(ctx, false, func() (chain.Draft, error) {
		why := strings.TrimSpace(why)
		return chain.Draft{Kind: report.EntryWithdraw, Data: report.Withdrawn{Remark: n, Why: why}}, r.Job.MayWithdraw(n, r.By, why)
	}, func() string { return r.Job.Remark(n).Name() + " is withdrawn" })
}

// decide stores one entry, or says why it cannot be made; on goes to the next point.
func (r *reviewer) decide(ctx context.Context, on bool, make func() (chain.Draft, error), said func() string) error {
	refused := false
	looked, seen := r.looked, r.seen[r.points[r.at].Looked]
	r.look()
	err := r.store(ctx, func() ([]chain.Draft, error) {
		d, err := make()
		refused = err != nil
		if err == nil {
			err = chain.PlainTexts(d.Data)
		}
		return []chain.Draft{d}, err
	})
	switch {
	case refused:
		r.looked, r.seen[r.points[r.at].Looked] = looked, seen
		r.in.Refuse("  %v\n", err)
		return nil
	case err != nil:
		return err
	}
	fmt.Fprintln(r.Env.Out, session.Wrapped(said(), "  ", r.Env.Width()))
	if on {
		r.at++
	}
	return nil
}
