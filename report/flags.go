package report

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"handback/checks"
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
	FlagLapsed     = "lapsed"
	FlagPhoto      = "photograph"
	FlagAmended    = "plan amended"
	FlagDefect     = "defect"
	FlagPlan       = "plan"  // it must not be worked by
	FlagEntry      = "entry" // no command writes it
)

// CoverFlags is how many open flags the cover lists, so that it stays one page; all
// of them stand on a sheet of their own, in full.
const CoverFlags = 10

// Flags lists what needs a look, check by check in plan order, then the job's own.
func (j *Job) Flags(now time.Time) []Flag {
	out := []Flag{}
	for _, s := range j.States {
		out = append(out, j.checkFlags(s, now)...)
	}
	out = append(append(out, j.stepFlags()...), j.defectFlags(now)...)
	out = append(out, j.amendmentFlags()...)
	for _, f := range chain.ClockFaults(j.Entries) {
		out = append(out, Flag{Seq: f.Seq, What: FlagClock, Text: f.What, Open: true})
	}
	for _, d := range j.Differs {
		out = append(out, Flag{What: FlagRecomputed, Text: d, Open: true})
	}
	for _, p := range j.Plan.Objections() {
		out = append(out, Flag{What: FlagPlan, Text: p.String(), Open: true})
	}
	for _, f := range j.RuleFaults() {
		out = append(out, Flag{What: FlagEntry, Text: f, Open: true})
	}
	return append(out, j.signatureFlags()...)
}

// stepFlags tell of steps taken past their holds, steps undone and instruments found
// bad.
func (j *Job) stepFlags() []Flag {
	var out []Flag
	for _, it := range j.Plan.Items() {
		if it.Hold == nil {
			continue
		}
		s := j.Steps[it.Hold.ID]
		if len(s.Open) > 0 {
			out = append(out, Flag{Seq: s.Seq, What: FlagPastHold, Open: true,
				Text: fmt.Sprintf("the step of hold %s was taken while it waited for %s", it.Hold.ID, gapNames(s.Open))})
		}
		if s.Order != "" {
			out = append(out, Flag{Seq: s.Seq, What: FlagOrder, Open: true,
				Text: fmt.Sprintf("the step of hold %s was taken before that of hold %s above it", it.Hold.ID, s.Order)})
		}
	}
	for _, u := range j.Undos {
		_, again := j.Steps[u.Hold]
		out = append(out, Flag{Seq: u.Seq, What: FlagUndone, Open: !again,
			Text: fmt.Sprintf("the step of hold %s was undone at %s by %s: %s", u.Hold, Stamp(u.Done), j.PersonName(u.By), u.Why)})
	}
	for _, b := range j.Bad {
		out = append(out, Flag{Seq: b.Seq, What: FlagBadMeter,
			Text: fmt.Sprintf("serial %s, its readings from %s on do not count: %s", b.Serial, Stamp(b.Since), b.Why)})
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
			add(c.Seq, FlagConceded, false, "%s accepted it as not done: %s", j.PersonName(c.Engineer), c.Reason)
			continue
		}
		add(c.Seq, FlagConceded, false, "%s accepted %s of attempt %d: %s", j.PersonName(c.Engineer), c.Verdict, c.Attempt, c.Reason)
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
		add(last.Seq, FlagStale, true, "passed, but counted only until %s", Stamp(last.Finding.Until))
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

// gapNames lists the checks of gaps.
func gapNames(gaps []Gap) string {
	names := make([]string, len(gaps))
	for i, g := range gaps {
		names[i] = g.Check
	}
	return strings.Join(names, ", ")
}

func keptIn(l Entered) []string {
	var out []string
	for _, k := range slices.Sorted(maps.Keys(l.Answers)) {
		if a := l.Answers[k]; a.Kept != "" {
			out = append(out, fmt.Sprintf("%s %q was kept: %s", k, a.Typed, a.Kept))
		}
	}
	return out
}
