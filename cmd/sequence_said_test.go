package cmd

import (
	"regexp"
	"strings"
	"time"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
)

// decoded reads the data of an entry that a command just wrote.
func decoded[T any](s *sequence, e chain.Entry) T {
	var v T
	if err := chain.DecodeStrict(e.Data, &v); err != nil {
		s.fail("entry %d: %v", e.Seq, err)
	}
	return v
}

var (
	saidAgain  = regexp.MustCompile(`(?m)^(\S+), attempt (\d+), judged again:\n\n?  (?:-- |\*\* )?([A-Z]+)\b`)
	saidJudged = regexp.MustCompile(`(?m)^  (?:-- |\*\* )?(PASS|FAIL|INCONCLUSIVE|VOID|MISSING)\b`)
)

// said holds what a command printed against what it stored: every verdict, and every
// line that it said is stored.
func (s *sequence) said(args []string, out, talk string, added []chain.Entry) {
	var verdicts []string // of the checks taken, in order
	reads := map[string]checks.Answers{}
	lines := 0
	for _, e := range added {
		switch e.Kind {
		case report.EntryJudge:
			if j := decoded[report.Judged](s, e); j.Because == "" {
				verdicts = append(verdicts, strings.ToUpper(j.Verdict.String()))
			}
		case report.EntryRead:
			lines++
			if reads[e.Check] == nil {
				reads[e.Check] = checks.Answers{}
			}
			for k, a := range decoded[report.Read](s, e).Answers {
				reads[e.Check][k] = a
			}
		}
	}
	for _, m := range saidAgain.FindAllStringSubmatch(out, -1) {
		s.reached["judged again"]++
		if a := s.job.State(m[1]).LastJudged(); strings.ToUpper(a.Finding.Verdict.String()) != m[3] {
			s.fail("%s was told as %s, the record gives %s", m[1], m[3], a.Finding.Verdict)
		}
	}
	switch args[0] {
	case "enter", "walk":
		var told []string
		for _, m := range saidJudged.FindAllStringSubmatch(saidAgain.ReplaceAllString(out, ""), -1) {
			told = append(told, m[1])
		}
		if strings.Join(told, " ") != strings.Join(verdicts, " ") {
			s.fail("told were %v, the record holds %v", told, verdicts)
		}
	}
	switch args[0] {
	case "walk":
		if stored := strings.Count("\n"+out, "\n  stored: "); stored > lines {
			s.fail("%d lines were said to be stored, %d are", stored, lines)
		}
		s.reached["walked line"] += lines
	case "enter":
		for _, pair := range args[3:] {
			key, value, is := strings.Cut(pair, "=")
			if a := reads[args[2]][key]; is && len(added) > 0 && a.Typed != strings.TrimSpace(value) {
				s.fail("%s was accepted, the record holds %q", pair, a.Typed)
			}
		}
	}
}

// count tells what the sequences come to.
func (s *sequence) count(e chain.Entry) {
	switch e.Kind {
	case report.EntryCorrect:
		s.reached["correction"]++
		for _, st := range s.job.States {
			a := st.LastJudged()
			if a == nil {
				continue
			}
			if !a.Finding.Until.IsZero() && e.At.After(a.Finding.Until) {
				s.reached["correction after a judged check went stale"]++
			}
			if m := s.plan.Meter(a.Answers["meter"].Word); m != nil && !m.InDate(e.At) && m.InDate(a.At) {
				s.reached["correction after an instrument fell due"]++
			}
		}
	case report.EntryRead:
		r := decoded[report.Read](s, e)
		if r.PastHold != "" {
			s.reached["past a hold"]++
		}
		if r.Why != "" {
			s.reached["repeat"]++
		}
	case report.EntryJudge:
		if decoded[report.Judged](s, e).Stop != nil {
			s.reached["stop"]++
		}
	case report.EntryRemark:
		s.reached[decoded[report.Remarked](s, e).Sort]++
	case report.EntryConcede:
		if decoded[report.Conceded](s, e).Skip > 0 {
			s.reached["skip accepted"]++
		}
	case report.EntryStep:
		for _, was := range s.job.Entries[:e.Seq-1] {
			if was.Kind == report.EntryStep && decoded[report.Stepped](s, was).Hold == decoded[report.Stepped](s, e).Hold {
				s.reached["step taken again"]++
			}
		}
	}
	if a, err := chain.ReadAttached(e); e.Kind == report.EntryAttach && err == nil && a.Document != "" {
		return // of the signature that follows
	}
	if name, ok := map[string]string{report.EntryConcede: "concession", report.EntryUndo: "undone", report.EntryBad: "found bad",
		report.EntrySign: "signed", report.EntryAttach: "attached", report.EntrySkip: "skip",
		report.EntryAmend: "amended", report.EntryAccept: "plan accepted", report.EntryDefect: "defect", report.EntryClose: "defect closed",
		report.EntryAnswer: "answered", report.EntryWithdraw: "withdrawn", report.EntryReview: "looked at", report.EntryJoin: "joined"}[e.Kind]; ok {
		s.reached[name]++
	}
	if e.Seq < 2 {
		return
	}
	before := s.job.Entries[e.Seq-2].At
	_, was := before.Zone()
	_, is := e.At.Zone()
	switch {
	case e.At.Before(before):
		s.reached["clock set back"]++
	case is != was:
		s.reached["clock change crossed"]++
	case e.At.Format(time.DateOnly) != before.Format(time.DateOnly):
		s.reached["midnight crossed"]++
	}
}
