package walk

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

// Words good at a question, and at a hold point. Capitals do not count.
const walkHelp = `  back               ask the line before again
  skip WHY           leave this check open and go on; holds wait for it
  use ID             another instrument is in hand, or another person looked
  anew               read again here what was taken from another check
  not there: WHY     the answer where a point does not exist
` + anyHelp

const holdHelp = `  done               the step was done just now; done 14:05 when it was earlier
  done WHEN with WHO a second person confirmed it: done with jonas
  done STEP          a step above that was left is done after all
  done override RULE WHY  where the plan lets a rule be overridden
  repeat CHECK WHY   take a check above this hold again
  undone STEP WHY    a step above was undone: opened, made dead again
  Enter              look again at what is open
` + anyHelp

const anyHelp = `  list               where you are, what is open, what waits, the clocks
  go CHECK           take that check now
  status             how the job stands
  note WORDS         record words about this check, or the job
  defect WHERE: WHAT raise a defect; owner=, due=, holds=STEP, or asked
  photo              attach the photographs that are still lacking
  answer N TEXT      answer a question of a review, by its number
  amend              how the plan is changed, as by another instrument
  quit               leave; walk goes on from here
`

// isWord tells whether a line begins with a word of the walk.
func isWord(word string) bool {
	return slices.Contains([]string{"back", "skip", "use", "anew", "list", "go", "status", "note", "defect", "photo", "amend", "answer", "quit", "help", "?", "done", "undone", "left", "repeat"}, word)
}

// command runs a word that is no answer. done is false for an answer.
func (w *walker) command(ctx context.Context, check, typed string) (done bool, err error) {
	word, rest := cutWord(typed)
	switch {
	case word == "quit" && rest == "":
		return true, errQuit
	case rest == "" && (word == "help" || word == "?"):
		if check == "" {
			w.say("%s", holdHelp)
		} else {
			w.say("%s", walkHelp)
		}
	case rest == "" && word == "list":
		w.list(check)
	case rest == "" && word == "status":
		return true, w.status()
	case word == "go" && !strings.Contains(rest, " "):
		return true, w.goTo(rest)
	case word == "photo" && rest == "":
		return true, w.photos(ctx, check)
	case word == "defect":
		return true, w.defect(ctx, rest)
	case word == "answer":
		return true, w.answer(ctx, rest)
	case word == "amend":
		return true, w.amended(ctx)
	case word == "note" && rest == "":
		w.say("  a note needs words: note WORDS\n")
	case word == "note":
		if err := w.record(ctx, report.EntryNote, check, report.Noted{Text: rest}); err != nil {
			return true, err
		}
		w.say("  noted\n")
	default:
		return false, nil
	}
	return true, nil
}

// amended tells how the plan is changed, and takes it up when it was changed elsewhere.
func (w *walker) amended(ctx context.Context) error {
	was := w.Job.Force()
	if err := w.Load(ctx, w.ID); err != nil {
		return err
	}
	if w.Job.Force() != was {
		w.say("  the plan was amended: the job is read again\n")
		return errMoved
	}
	w.say("  the plan is changed by a command of its own, then type amend once more; another instrument:\n    %s\n  anything else, by the whole plan as it should be:\n    %s\n",
		w.Env.Hint("amend", w.Job.ID, "--instrument", "ID", "serial=NUMBER", "due=2027-03-31", "like=ID", "--by", w.By, "--why", "WHY"), w.Env.Hint("amend", w.Job.ID, "PLAN", "--by", w.By, "--why", "WHY"))
	return nil
}

// goTo leaves for the named check, by its id or its number in the plan.
func (w *walker) goTo(id string) error {
	items := w.Job.Plan.Items()
	if n, err := strconv.Atoi(id); err == nil && n >= 1 && n <= len(items) {
		id = items[n-1].ID()
	}
	c := w.Job.Plan.Check(id)
	switch {
	case c == nil:
		w.in.Refuse("  %q is no check of the plan: go CHECK; list names them\n", id)
		return nil
	case w.Job.State(id).Last() != nil && w.Job.State(id).Last().Judged:
		w.in.Refuse("  %s is judged (%s): repeat it at the next hold point, or with: ", id, w.Job.State(id).Verdict())
		fmt.Fprintf(w.Env.Err, "%s\n", w.Env.Hint("walk", w.Job.ID, "--check", id))
		return nil
	}
	if h := w.Job.HoldAbove(id); h != nil {
		w.in.Refuse("  check %s lies behind hold %s, whose step was not done\n", id, h.ID)
		return nil
	}
	if due, waits := w.Job.Waits(w.Job.State(id), w.Env.Now()); waits {
		w.in.Refuse("  the next line of %s falls due at %s\n", id, w.dueText(due))
		return nil
	}
	if err := w.Barred(c); err != nil {
		w.in.Refuse("  %v\n", err)
		return nil
	}
	return errGo{c}
}

// status tells how the job stands as a whole.
func (w *walker) status() error {
	o, err := w.Job.Standing(w.Env.Now())
	if err != nil {
		return err
	}
	w.say("  %s\n", o.Words)
	for _, text := range o.Against {
		w.say("  ! %s\n", text)
	}
	return nil
}

// list tells where the walk is, how every step stands and what it waits for, and the
// clocks that run.
func (w *walker) list(here string) {
	now := w.Env.Now()
	if it, ok := w.Job.Next(now); ok && here == "" {
		here = it.ID()
	}
	items := w.Job.Plan.Items()
	for i, it := range items {
		mark := " "
		if it.ID() == here {
			mark = ">"
		}
		w.say(" %s %2d %s\n", mark, i+1, w.standing(it, now))
	}
	for _, text := range w.clocks(now) {
		w.say("  clock: %s\n", text)
	}
}

// standing is one line on an item: its name and how it stands.
func (w *walker) standing(it plan.Item, now time.Time) string {
	if h := it.Hold; h != nil {
		step, done := w.Job.Steps[h.ID]
		gaps := w.Job.Gaps(h, now)
		switch {
		case done:
			return fmt.Sprintf("HOLD %s: done %s", h.ID, session.ClockText(step.Taken, now))
		case len(gaps) == 0:
			return fmt.Sprintf("HOLD %s: free", h.ID)
		}
		var ids []string
		for _, g := range gaps {
			ids = append(ids, g.Name())
		}
		const most = 4
		if n := len(ids); n > most+1 {
			ids = append(ids[:most], fmt.Sprintf("and %d more", n-most))
		}
		return fmt.Sprintf("HOLD %s: waits for %s", h.ID, strings.Join(ids, ", "))
	}
	if st := it.Step; st != nil {
		is, done := w.Job.Steps[st.ID]
		switch left := w.Job.LeftNow(st.ID); {
		case done:
			return fmt.Sprintf("step %s: done %s", st.ID, session.ClockText(is.Taken, now))
		case left != nil:
			return fmt.Sprintf("step %s: left: %s", st.ID, left.Why)
		}
		return fmt.Sprintf("step %s: not done", st.ID)
	}
	s := w.Job.State(it.Check.ID)
	text := s.Verdict().String()
	due, waits := w.Job.Waits(s, now)
	switch {
	case waits:
		text = "next line at " + w.dueText(due)
	case s.Skip != nil:
		text = "skipped: " + s.Skip.Why
	case s.Last() != nil && !s.Last().Judged:
		text = "begun"
	case s.Last() == nil && w.Job.HoldAbove(it.Check.ID) != nil:
		text = "waits for hold " + w.Job.HoldAbove(it.Check.ID).ID
	case s.Last() == nil:
		text = "not taken"
	case w.Job.Ordered(it.Check.ID) != nil:
		text += ", a repeat is ordered"
	case s.IsConceded():
		text += ", accepted"
	case w.Job.Lapsed(s) != "":
		text += ", does not count any longer"
	}
	return it.Check.ID + ": " + text
}

// clocks are what runs out: proofs and passes that count for a time towards the next
// hold point, readings to come, and what a check itself keeps the time of.
func (w *walker) clocks(now time.Time) []string {
	var out []string
	minutes := func(d time.Duration) int { return int(math.Floor(d.Minutes())) }
	for _, it := range w.Job.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		if _, done := w.Job.Steps[it.Hold.ID]; done {
			continue
		}
		for _, c := range w.Job.Counting(it.Hold, now) {
			a := w.Job.State(c.Check).LastJudged()
			if left := c.Until.Sub(now); a.Finding.Soon && left >= 0 {
				out = append(out, fmt.Sprintf("%s judged %d min ago, valid until %s, %d min left", c.Check, minutes(now.Sub(a.At)), session.ClockText(c.Until, now), minutes(left)))
			} else if a.Finding.Soon {
				out = append(out, fmt.Sprintf("%s was valid until %s: take it again", c.Check, session.ClockText(c.Until, now)))
			}
		}
		break
	}
	for _, s := range w.Job.States {
		a := s.LastJudged()
		told := slices.ContainsFunc(out, func(text string) bool { return strings.HasPrefix(text, s.Check.ID+" ") })
		if s.Check.Kind.Proves && a != nil && a.Finding.Verdict == checks.Pass && !told && w.Job.OutOfOrder(s.Check) == "" {
			out = append(out, fmt.Sprintf("%s proved dead %d min ago", s.Check.ID, minutes(now.Sub(a.At))))
		}
		if due, waits := w.Job.Waits(s, now); waits {
			out = append(out, fmt.Sprintf("%s: next line at %s", s.Check.ID, w.dueText(due)))
		}
		since, most, ok := w.Job.Input(s.Check, now).Running()
		switch ran := now.Sub(since); {
		case !ok:
		case most > 0 && ran > most:
			out = append(out, fmt.Sprintf("in parallel for %d min, longer than the %d min allowed", minutes(ran), minutes(most)))
		case most > 0:
			out = append(out, fmt.Sprintf("in parallel for %d min, %d min left", minutes(ran), minutes(most-ran)))
		default:
			out = append(out, fmt.Sprintf("in parallel for %d min", minutes(ran)))
		}
	}
	return out
}

// cutWord parts a typed line into its first word, in small letters, and the rest.
func cutWord(typed string) (word, rest string) {
	word, rest, _ = strings.Cut(typed, " ")
	return strings.ToLower(word), strings.TrimSpace(rest)
}

// use names another instrument or person for a check than the one that stands for it:
// use ID, or use FIELD ID where more than one field could be meant.
func (w *walker) use(in checks.Input, rest string) (key string, a checks.Answer, err error) {
	id, fields := rest, slices.DeleteFunc(in.Form(), func(f checks.Field) bool { return f.Sort != checks.MeterUsed && w.impliedOf(f) == "" })
	if field, after, two := strings.Cut(rest, " "); two {
		id = strings.TrimSpace(after)
		fields = slices.DeleteFunc(fields, func(f checks.Field) bool { return !strings.EqualFold(f.Key, field) })
	}
	var fits []checks.Field
	err = fmt.Errorf("nothing here is read with an instrument or by a person that could be another: use ID")
	for _, f := range fields {
		var got checks.Answer
		if got, err = checks.ParseAnswer(f, in.Plan, id, w.Env.Now()); err == nil {
			a, fits = got, append(fits, f)
		} else {
			err = errors.New(strings.TrimPrefix(err.Error(), f.Key+": "))
		}
	}
	if len(fits) > 1 { // that which the plan gives to an instrument of the same sort
		m := in.Plan.Meter(a.Word)
		same := slices.DeleteFunc(slices.Clone(fits), func(f checks.Field) bool {
			planned := in.Plan.Meter(f.Default)
			return m == nil || planned == nil || planned.SortOf() != m.SortOf()
		})
		if len(same) == 1 {
			fits = same
		}
	}
	switch {
	case len(fits) == 1:
		return fits[0].Key, a, nil
	case len(fits) > 1:
		return "", a, fmt.Errorf("%s may stand for %s or %s: use %s %s", id, fits[0].Label, fits[1].Label, fits[0].Key, id)
	}
	return "", a, err
}
