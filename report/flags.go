package report

import (
	"cmp"
	"fmt"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/network"
	"handback/checks/plan"
	"handback/records/chain"
)

// Flag is something in a job that an engineer should look at.
type Flag struct {
	Seq   int    `json:"seq"`             // entry it stands on, 0 for none
	Check string `json:"check,omitempty"` // "" for the job
	What  string `json:"what"`            // one of the Flag words
	Text  string `json:"text"`
	Open  bool   `json:"open"` // still so: neither cured by a later attempt nor conceded
}

// What a flag is about.
const (
	FlagStop       = "stop"
	FlagVerdict    = "not passed"
	FlagConceded   = "concession"
	FlagRepeat     = "repeat"
	FlagCorrected  = "correction"
	FlagKept       = "kept reading"
	FlagOrder      = "out of order"
	FlagPastHold   = "past a hold"
	FlagStale      = "stale"
	FlagSkipped    = "skipped"
	FlagClock      = "clock"
	FlagRecomputed = "judged otherwise"
	FlagIncomplete = "not complete"
	FlagSignature  = "signature"
	FlagUndone     = "undone"
	FlagBadMeter   = "instrument found bad"
	FlagOverride   = "override"
	FlagRule       = "against a rule"
	FlagLeft       = "left"
	FlagFound      = "found otherwise"
	FlagAlone      = "second person"
	FlagLapsed     = "lapsed"
	FlagPhoto      = "photograph"
	FlagAmended    = "plan amended"
	FlagDefect     = "defect"
	FlagOrdered    = "repeat ordered"
	FlagQuestion   = "question"
	FlagComment    = "comment"
	FlagFork       = "fork"  // somebody else went on with the job
	FlagPlan       = "plan"  // it must not be worked by
	FlagEntry      = "entry" // no command writes it
)

// CoverFlags is how many open flags the certificate lists; all
// of them stand on a sheet of their own, in full.
const CoverFlags = 10

// Flags lists the open points and what was cured, check by check in plan order, then the job's own.
func (j *Job) Flags(now time.Time) []Flag {
	out := []Flag{}
	for _, s := range j.States {
		out = append(out, j.checkFlags(s, now)...)
	}
	out = append(append(out, j.stepFlags()...), j.defectFlags(now)...)
	out = append(append(append(out, j.remarkFlags()...), j.amendmentFlags()...), j.forkFlags()...)
	for _, f := range chain.ClockFaults(j.Entries) {
		out = append(out, Flag{Seq: f.Seq, What: FlagClock, Text: f.What, Open: true})
	}
	for _, d := range j.Differs {
		out = append(out, Flag{What: FlagRecomputed, Text: d, Open: true})
	}
	for _, p := range j.Plan.Objections() {
		out = append(out, Flag{What: FlagPlan, Text: p.String(), Open: true})
	}
	for _, f := range j.unflagged() {
		out = append(out, Flag{What: FlagEntry, Text: f, Open: true})
	}
	return append(out, j.signatureFlags()...)
}

// stepFlags tell of steps done past their holds or against a rule, of those undone or
// left, of devices found otherwise and of instruments found bad.
func (j *Job) stepFlags() []Flag {
	var out []Flag
	for _, it := range j.Plan.Items() {
		if s := it.Does(); s != nil {
			out = append(out, j.doneFlags(s)...)
		}
	}
	for _, u := range j.Undos {
		_, again := j.Steps[u.Step]
		out = append(out, Flag{Seq: u.Seq, What: FlagUndone, Open: !again,
			Text: fmt.Sprintf("the step %s was undone at %s by %s: %s", u.Step, Stamp(u.Done), j.PersonName(u.By), u.Why)})
		out = append(out, j.overrideFlags(u.Was)...)
		for _, o := range u.Overrides {
			out = append(out, Flag{Seq: u.Seq, What: FlagOverride, Text: fmt.Sprintf("the step %s, undone: %s", u.Step, j.overrideWords(o))})
		}
		if len(u.Broken) > 0 {
			out = append(out, Flag{Seq: u.Seq, What: FlagRule, Open: true, Text: fmt.Sprintf("the step %s was undone against a rule: %s", u.Step, j.refusalWords(u.Broken))})
		}
	}
	for _, l := range j.Left {
		now := j.LeftNow(l.Step)
		out = append(out, Flag{Seq: l.Seq, What: FlagLeft, Open: now != nil && now.Seq == l.Seq,
			Text: fmt.Sprintf("the step %s was left by %s: %s", l.Step, j.PersonName(l.By), l.Why)})
	}
	for _, f := range j.Found {
		is, accepted := j.foundWords(f)
		text := fmt.Sprintf("%s; seen %s by %s: %s", is, Stamp(f.Seen), j.PersonName(f.By), f.Why)
		if len(f.Loads) > 0 {
			text += "; dark by it: " + strings.Join(f.Loads, ", ")
		}
		out = append(out, Flag{Seq: f.Seq, What: FlagFound, Open: f.Accepted == nil || len(f.Broken) > 0, Text: JoinWords(JoinWords(text, accepted), j.refusalWords(f.Broken))})
	}
	for _, b := range j.Bad {
		out = append(out, Flag{Seq: b.Seq, What: FlagBadMeter,
			Text: fmt.Sprintf("serial %s, its readings from %s on do not count: %s", b.Serial, Stamp(b.Since), b.Why)})
	}
	return out
}

// doneFlags tell what an engineer should look at in a step that was done.
func (j *Job) doneFlags(s *plan.Step) []Flag {
	is, done := j.Steps[s.ID]
	if !done {
		return nil
	}
	out := j.overrideFlags(is)
	for _, x := range []struct {
		what string
		text []string
	}{{FlagPastHold, is.past(s.ID)}, {FlagOrder, is.ahead(s.ID)}, {FlagRule, is.against(j, s.ID)}, {FlagAlone, is.single(s.ID)}, {FlagPhoto, j.lacks(s)}} {
		for _, text := range x.text {
			out = append(out, Flag{Seq: is.Seq, What: x.what, Open: true, Text: text})
		}
	}
	return out
}

// overrideFlags tell who took which rule upon them.
func (j *Job) overrideFlags(s Step) []Flag {
	var out []Flag
	for _, o := range s.Did.Overrides {
		out = append(out, Flag{Seq: s.Seq, What: FlagOverride, Text: fmt.Sprintf("the step %s: %s", s.Did.ID(), j.overrideWords(o))})
	}
	return out
}

// signatureFlags tell what each signature covers. One is open that is not good, and
// one that entries came after, unless the same role signed again after them.
func (j *Job) signatureFlags() []Flag {
	checked, err := j.CheckSignatures(nil)
	if err != nil {
		return []Flag{{What: FlagSignature, Text: err.Error(), Open: true}}
	}
	var out []Flag
	for i, c := range checked {
		f := Flag{Seq: c.Seq, What: FlagSignature, Text: j.CheckedWords(c), Open: j.After(c.Signature) > 0 || c.Doubt() != ""}
		for _, later := range checked[i+1:] {
			if later.Statement.Role == c.Statement.Role && j.After(c.Signature) > j.After(later.Signature) {
				f.Open = c.Doubt() != ""
			}
		}
		if c.Doubt() != "" {
			f.Text += "; NOT SHOWN TO BE GOOD: " + c.Doubt()
		}
		f.Text = JoinWords(f.Text, c.KeptWords())
		out = append(out, f)
	}
	return out
}

func (j *Job) checkFlags(s *State, now time.Time) []Flag {
	var out []Flag
	add := func(seq int, what string, open bool, format string, args ...any) {
		out = append(out, Flag{Seq: seq, Check: s.Check.ID, What: what, Open: open, Text: fmt.Sprintf(format, args...)})
	}
	last := s.LastJudged()
	for _, a := range s.Attempts {
		if a.Order != "" {
			add(a.Lines[0].Seq, FlagOrder, a == s.Last(), "attempt %d: %s", a.Number, a.Order)
		}
		if a.PastHold != "" {
			add(a.Lines[0].Seq, FlagPastHold, a == last && j.stillLapsed(s, a) != "", "attempt %d was read behind a hold point that stood: %s", a.Number, a.PastHold)
		}
		if a.Why != "" {
			add(a.Lines[0].Seq, FlagRepeat, false, "attempt %d: %s", a.Number, a.Why)
		}
		for _, l := range a.Lines {
			for _, f := range keptIn(l) {
				add(l.Seq, FlagKept, a == s.Last(), "attempt %d: %s", a.Number, f)
			}
		}
		for _, c := range a.Corrections {
			add(c.Seq, FlagCorrected, false, "attempt %d: %s was %q, is %q: %s", a.Number, c.Key, c.Was.Typed, c.Is.Typed, c.Why)
		}
		out = append(out, verdictFlag(s, a, a == last)...)
	}
	if last != nil && last.Order == "" && last.PastHold == "" {
		if why := j.stillLapsed(s, last); why != "" {
			add(last.Seq, FlagLapsed, true, "%s", why)
		}
	}
	if why := j.PhotosOpen(s); why != "" {
		add(last.Seq, FlagPhoto, true, "%s", why)
	}
	for _, c := range s.Concessions {
		if c.Void != "" {
			add(c.Seq, FlagConceded, c == s.Concession, "it accepts nothing: %s", c.Void)
			continue
		}
		if c.Skip > 0 {
			add(c.Seq, FlagConceded, c == s.Concession && j.spoken(s), "%s accepted it as not done: %s; %s", j.PersonName(c.Engineer), c.Reason, j.Proof(c.Seq).Words())
			continue
		}
		add(c.Seq, FlagConceded, c == s.Concession && j.spoken(s), "%s accepted %s of attempt %d: %s; %s", j.PersonName(c.Engineer), c.Verdict, c.Attempt, c.Reason, j.Proof(c.Seq).Words())
	}
	switch {
	case s.Skip != nil:
		add(s.Skip.Seq, FlagSkipped, !s.AcceptedSkip(), "skipped: %s", s.Skip.Why)
	case last != nil && last.Unjudged():
		add(last.Corrections[len(last.Corrections)-1].Seq, FlagIncomplete, true, "attempt %d was corrected and not judged again", last.Number)
	case s.Last() != nil && !s.Last().Judged:
		add(s.Last().Lines[0].Seq, FlagIncomplete, true, "attempt %d is begun, not complete", s.Last().Number)
	}
	if last != nil && last.Finding.Verdict == checks.Pass && !last.Finding.Until.IsZero() && j.staleAt(s, now).After(last.Finding.Until) {
		add(last.Seq, FlagStale, true, "passed, but was valid only until %s", Stamp(last.Finding.Until))
	}
	return out
}

func verdictFlag(s *State, a *Attempt, newest bool) []Flag {
	if !a.Judged || a.Finding.Verdict == checks.Pass {
		return nil
	}
	f := Flag{Seq: a.Seq, Check: s.Check.ID, What: FlagVerdict, Open: newest && !s.IsConceded(),
		Text: fmt.Sprintf("attempt %d: %s: %s", a.Number, a.Finding.Verdict, a.Told.Why())}
	if a.Told.Stop != nil {
		f.What, f.Open = FlagStop, newest
	}
	return []Flag{f}
}

// refusalWords are refusals in words, "" for none.
func (j *Job) refusalWords(refused []network.Refusal) string {
	if j.Plan.Network == nil { // an amendment took it out
		return ruleNames(refused)
	}
	var out []string
	for _, r := range refused {
		out = append(out, RefusalWords(j.Plan, r))
	}
	return strings.Join(out, "; ")
}

// ruleNames are the rules of refusals.
func ruleNames(refused []network.Refusal) string {
	var out []string
	for _, r := range refused {
		out = append(out, string(r.Rule))
	}
	return strings.Join(out, ", ")
}

// gapNames lists what gaps are about: every check and rule, and of many steps the first.
func gapNames(gaps []Gap) string {
	const most = 3
	var names []string
	steps := 0
	for _, g := range gaps {
		if g.Step != "" {
			steps++
		}
		if g.Step == "" || steps <= most {
			names = append(names, g.Name())
		}
	}
	if steps > most {
		names = append(names, Count(steps-most, "more step", "more steps"))
	}
	return strings.Join(names, ", ")
}

func keptIn(l Entered) []string {
	var out []string
	for _, a := range l.Answers {
		if a.Kept != "" {
			out = append(out, fmt.Sprintf("%s %q was stored although in doubt: %s", a.Key, a.Typed, a.Kept))
		}
	}
	return out
}

// past, ahead, against and single say what stands against a step that was done.
func (s Step) past(id string) []string {
	if len(s.Open) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the step %s was done while it waited for %s", id, gapNames(s.Open))}
}

func (s Step) ahead(id string) []string {
	if s.Order == "" {
		return nil
	}
	return []string{fmt.Sprintf("the step %s was done before %s above it", id, s.Order)}
}

func (s Step) against(j *Job, id string) []string {
	if len(s.Broken) == 0 {
		return nil
	}
	return []string{fmt.Sprintf("the step %s was done against a rule (%s): %s", id, ruleNames(s.Broken), j.refusalWords(s.Broken))}
}

func (s Step) single(id string) []string {
	if !s.Alone {
		return nil
	}
	return []string{fmt.Sprintf("the step %s wants a second person, and nobody beside who did it confirmed it", id)}
}

// overrideWords tell who took a rule upon them, and why.
func (j *Job) overrideWords(o network.Override) string {
	text := fmt.Sprintf("rule %s overridden by %s", o.Rule, j.PersonName(o.Person))
	if o.InControl {
		text += ", person in control"
	}
	if o.Indicator != "" {
		text += fmt.Sprintf(", on the built-in indicator %s, live before: %s, after: %s", o.Indicator, yesNo(o.LiveBefore), yesNo(o.LiveAfter))
	}
	return text + ": " + o.Reason
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// StandingWords are a standing in words.
func StandingWords(s network.Standing) string {
	text := string(s.Pos)
	if s.Place != "" && s.Place != network.Service {
		text = string(s.Place) + ", " + text
	}
	if len(s.Locks) > 0 {
		text += ", lock " + strings.Join(s.Locks, ", ")
	}
	return text
}

// leftoverWords tell what is not as the plan wants it at the end.
func (j *Job) leftoverWords(l network.Leftover) string {
	name := l.ID
	if l.What != network.LeftDocument && l.What != network.LeftKey {
		name = j.named(l.ID)
	}
	is, want := strings.Join(l.Is, ", "), strings.Join(l.Want, ", ")
	switch l.What {
	case network.LeftDocument:
		return "document " + name + " is in force"
	case network.LeftKey:
		return fmt.Sprintf("key %s is in %s, its home is %s", name, is, want)
	case network.LeftLocks:
		return fmt.Sprintf("locks on %s: %s, wanted: %s", name, cmp.Or(is, "none"), cmp.Or(want, "none"))
	}
	return fmt.Sprintf("%s is %s, wanted %s", name, is, want)
}
