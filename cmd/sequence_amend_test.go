package cmd

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"pgregory.net/rapid"

	"handback/records/chain"
	"handback/report"
)

// lawPlan is what the ledger knows of amendments: the one limit that they change here.
type lawPlan struct {
	limit, decided string // of hv: as amended last, and as an engineer has it
	open           int    // amendments that no engineer made or accepted
	changed        int    // the entry that changed the limit last
}

type lawSkip struct {
	seq      int
	by       string
	accepted bool
}

// open follows what stays open until somebody decides: skips, amendments, defects.
func (l *ledger) open(e chain.Entry) string {
	switch e.Kind {
	case report.EntrySkip:
		l.skips[e.Check] = lawSkip{seq: e.Seq, by: e.By}
	case report.EntryAmend:
		var a report.Amended
		return l.broken(chain.DecodeStrict(e.Data, &a), func() string { return l.amend(e, a) })
	case report.EntryAccept:
		return l.acceptPlan(e)
	case report.EntryDefect:
		var d report.Raised
		return l.broken(chain.DecodeStrict(e.Data, &d), func() string { l.defects[d.Defect] = d.Holds; return "" })
	case report.EntryRemark, report.EntryAnswer, report.EntryWithdraw, report.EntryReview:
		return l.reviewed(e)
	case report.EntryClose:
		var c report.Closed
		return l.broken(chain.DecodeStrict(e.Data, &c), func() string { delete(l.defects, c.Defect); return "" })
	}
	return ""
}

// concedeSkip follows the acceptance of a check as not done.
func (l *ledger) concedeSkip(e chain.Entry, c report.Conceded) string {
	skip, a, p := l.skips[e.Check], l.last(e.Check), l.plan.Person(c.Engineer)
	switch {
	case skip.seq != c.Skip:
		return "a skip was accepted that does not stand"
	case e.Check == "dead":
		return "a proof of dead that was not made was accepted"
	case l.ordered(e.Check):
		return "a skip was accepted while taking it is ordered"
	case p == nil || p.Role != "engineer" || skip.by == c.Engineer:
		return c.Engineer + " accepted a skip, who is no engineer or skipped it"
	case a != nil && a.stop != "":
		return "a skip was accepted past a stop"
	}
	skip.accepted = true
	l.skips[e.Check] = skip
	return ""
}

// heldBy names the open defect that holds a hold point.
func (l *ledger) heldBy(hold string) string {
	for _, n := range slices.Sorted(maps.Keys(l.defects)) {
		if l.defects[n] == hold {
			return fmt.Sprintf("defect %d holds it", n)
		}
	}
	return ""
}

// openPoint says what keeps the job from being ready beside its checks and steps.
func (l *ledger) openPoint() string {
	for n := range l.remarks {
		return fmt.Sprintf("remark %d waits", n)
	}
	if l.amended.open > 0 {
		return "the plan was amended, and no engineer accepted that"
	}
	for n, h := range l.defects {
		if h != "" {
			return fmt.Sprintf("defect %d is open and holds %s", n, h)
		}
	}
	return ""
}

var hvLimit = regexp.MustCompile(`name: HV line-to-line volts, unit: kV, low: 10.7 kV, high: (\S+) kV`)

// amend follows another version of the plan: one that is no engineer's waits for one.
func (l *ledger) amend(e chain.Entry, a report.Amended) string {
	m := hvLimit.FindStringSubmatch(a.Plan)
	if m == nil || len(strings.TrimSpace(a.Why)) < 4 {
		return "an amendment without its plan or its reason"
	}
	if m[1] != l.amended.limit {
		l.amended.limit, l.amended.changed = m[1], e.Seq
	}
	if l.plan.Person(e.By).Role != "engineer" {
		l.amended.open++
	} else if l.amended.open == 0 {
		l.amended.decided = m[1]
	}
	return ""
}

func (l *ledger) acceptPlan(e chain.Entry) string {
	if l.plan.Person(e.By).Role != "engineer" {
		return "the plan was accepted by " + e.By + ", who is no engineer"
	}
	l.amended.open, l.amended.decided = 0, l.amended.limit
	return ""
}

// undecided says why what was read of a check does not count after amendments.
func (l *ledger) undecided(check string, a *lawAttempt) string {
	switch {
	case check != "hv":
		return ""
	case a != nil && a.judged > 0 && a.judged < l.amended.changed:
		return "its limit was changed, and it was not judged again"
	case l.amended.limit != l.amended.decided:
		return "its limit was changed, and no engineer accepted that"
	}
	return ""
}

// amend changes the plan: a limit, another instrument, or an engineer accepts what was
// changed.
func (s *sequence) amend() {
	by := rapid.SampledFrom([]string{"ada", "ada", "ben", "bea", "cleo"}).Draw(s.rt, "amends")
	rest := []string{"--by", by, "--why", s.reason()}
	switch rapid.IntRange(0, 3).Draw(s.rt, "amendment") {
	case 0:
		id := fmt.Sprintf("dmm%d", rapid.IntRange(2, 5).Draw(s.rt, "id"))
		args := []string{"amend", sequenceJob, "--instrument", id, "serial=EX-2" + id, "due=2027-03-31"}
		if id != "dmm2" {
			args = append(args, "like=dmm2")
		}
		s.run("", append(args, rest...)...)
	case 1:
		s.run("", append([]string{"amend", sequenceJob, "--accept"}, rest...)...)
	default:
		text, err := os.ReadFile(s.planFile)
		if err != nil {
			s.fail("%v", err)
		}
		if n := len(s.job.Amendments); n > 0 {
			text = []byte(s.job.Amendments[n-1].Amended.Plan)
		}
		to := rapid.SampledFrom([]string{"11.2", "10.9", "11.1"}).Draw(s.rt, "limit")
		was := hvLimit.FindString(string(text))
		is := was[:strings.LastIndex(was, "high: ")] + "high: " + to + " kV"
		file := filepath.Join(filepath.Dir(s.book), "amended.yaml")
		if err := os.WriteFile(file, []byte(strings.Replace(string(text), was, is, 1)), 0o600); err != nil {
			s.fail("%v", err)
		}
		s.run("", append([]string{"amend", sequenceJob, file}, rest...)...)
		if s.half("accepted at once") {
			s.run("", "amend", sequenceJob, "--accept", "--by", "bea", "--why", "the maker was asked and agrees")
		}
	}
}

// defect raises a defect or closes one.
func (s *sequence) defect() {
	if n := len(s.job.Defects); n > 0 && s.half("close") {
		s.run("", "defect", sequenceJob, fmt.Sprint(rapid.IntRange(1, n).Draw(s.rt, "number")), "--closed", s.reason())
		return
	}
	args := []string{"defect", sequenceJob, s.reason(), "--where", "T2"}
	if s.half("holds") {
		args = append(args, "--holds", s.anyHold().ID)
	}
	s.run("", args...)
	if n := len(s.job.Defects); n > 0 && s.half("put right") {
		s.run("", "defect", sequenceJob, fmt.Sprint(n), "--closed", "tightened and looked at twice")
	}
}

// skipAndAccept leaves a check out, and somebody may accept that.
func (s *sequence) skipAndAccept() {
	c := s.nextCheck()
	lines := []string{"skip the cable is not there yet", "quit"}
	if a := s.job.State(c.ID).Last(); a != nil && a.Judged {
		lines = slices.Insert(lines, 0, "to be sure")
	}
	s.run(strings.Join(lines, "\n")+"\n", "walk", sequenceJob, "--check", c.ID, "--by", rapid.SampledFrom([]string{"ada", "ben"}).Draw(s.rt, "skips"))
	s.run("", "accept", sequenceJob, c.ID, "--by", rapid.SampledFrom([]string{"ben", "bea", "ada"}).Draw(s.rt, "engineer"), "--why", s.reason())
}
