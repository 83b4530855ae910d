package cmd

import (
	"regexp"
	"strings"
	"time"

	"handback/checks"
	"handback/records"
	"handback/report"
)

// decoded reads the data of an entry that a command just wrote.
func decoded[T any](s *sequence, e records.Entry) T {
	var v T
	if err := records.DecodeStrict(e.Data, &v); err != nil {
		s.fail("entry %d: %v", e.Seq, err)
	}
	return v
}

var (
	saidAgain  = regexp.MustCompile(`(?m)^(\S+), attempt (\d+), judged again:\n  ([A-Z]+)\n`)
	saidJudged = regexp.MustCompile(`(?m)^  (PASS|FAIL|INCONCLUSIVE|VOID|MISSING)\n`)
)

// said holds what a command printed against what it stored: every verdict, and every
// line that it said is kept.
func (s *sequence) said(args []string, out, talk string, added []records.Entry) {
	var verdicts []string // of the checks taken, in order
	reads := map[string]checks.Answers{}
	lines := 0
	for _, e := range added {
		switch e.Kind {
		case report.KindJudge:
			if j := decoded[report.Judged](s, e); j.Because == "" {
				verdicts = append(verdicts, strings.ToUpper(j.Verdict.String()))
			}
		case report.KindRead:
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
		if a := s.job.State(m[1]).Judged(); strings.ToUpper(a.Finding.Verdict.String()) != m[3] {
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
		if kept := strings.Count("\n"+out, "\n  kept: "); kept != lines {
			s.fail("%d lines were said to be kept, %d are", kept, lines)
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
func (s *sequence) count(e records.Entry) {
	switch e.Kind {
	case report.KindCorrect:
		s.reached["correction"]++
		for _, st := range s.job.States {
			a := st.Judged()
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
	case report.KindRead:
		r := decoded[report.Read](s, e)
		if r.PastHold != "" {
			s.reached["past a hold"]++
		}
		if r.Why != "" {
			s.reached["repeat"]++
		}
	case report.KindJudge:
		if decoded[report.Judged](s, e).Stop != nil {
			s.reached["stop"]++
		}
	case report.KindStep:
		for _, was := range s.job.Entries[:e.Seq-1] {
			if was.Kind == report.KindStep && decoded[report.Stepped](s, was).Hold == decoded[report.Stepped](s, e).Hold {
				s.reached["step taken again"]++
			}
		}
	}
	if a, err := records.ReadAttached(e); e.Kind == report.KindAttach && err == nil && a.Document != "" {
		return // of the signature that follows
	}
	if name, ok := map[string]string{report.KindConcede: "concession", report.KindUndo: "undone", report.KindBad: "found bad",
		report.KindSign: "signed", report.KindAttach: "attached", report.KindSkip: "skip"}[e.Kind]; ok {
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
