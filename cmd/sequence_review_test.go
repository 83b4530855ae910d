package cmd

import (
	"fmt"
	"slices"
	"strings"

	"pgregory.net/rapid"

	"handback/records/chain"
	"handback/report"
)

// lawRemark is an order or a question that waits.
type lawRemark struct {
	order   bool
	place   string // a check or a hold point, "" for the job
	attempt int    // that is wanted anew
	by      string
}

// lawOrder is the order of return.yaml, told here a second time on purpose.
var lawOrder = []string{"dead", "work", "taps", "bolts", "back", "energise", "present", "hv", "lv", "sync", "close", "share", "open-coupler", "after", "states"}

// reviewed follows what engineers order and ask, and what becomes of it.
func (l *ledger) reviewed(e chain.Entry) string {
	engineer := l.plan.Person(e.By).Role == "engineer"
	switch e.Kind {
	case report.EntryRemark:
		var r report.Remarked
		return l.broken(chain.DecodeStrict(e.Data, &r), func() string {
			is := lawRemark{order: r.Sort == "order", place: e.Check + r.Step, attempt: r.Attempt, by: e.By}
			switch _, done := l.steps[is.place]; {
			case !engineer:
				return e.By + " made a remark, who is no engineer"
			case is.order && l.ordered(is.place):
				return "a repeat was ordered twice"
			case is.order && l.last(is.place) == nil && !done && l.skips[is.place].seq == 0:
				return "a repeat was ordered of what was not done"
			case r.Sort != "comment":
				l.remarks[r.Remark] = is
			}
			return ""
		})
	case report.EntryAnswer:
		var a report.Answered
		return l.broken(chain.DecodeStrict(e.Data, &a), func() string {
			is, open := l.remarks[a.Remark]
			if !open || is.order || is.by == e.By {
				return "an answer that answers nothing, or a question of their own"
			}
			delete(l.remarks, a.Remark)
			return ""
		})
	case report.EntryWithdraw:
		var w report.Withdrawn
		return l.broken(chain.DecodeStrict(e.Data, &w), func() string {
			if is, open := l.remarks[w.Remark]; !open || is.by != e.By {
				return "a remark was withdrawn that does not wait, or was made by another"
			}
			delete(l.remarks, w.Remark)
			return ""
		})
	}
	if !engineer {
		return "a review by " + e.By + ", who is no engineer"
	}
	return ""
}

// ordered tells whether a check or a step waits to be taken again.
func (l *ledger) ordered(place string) bool {
	for _, r := range l.remarks {
		if r.order && r.place == place {
			return true
		}
	}
	return false
}

// repeated meets the order on a check of which a newer attempt was judged, or on a step
// that was done.
func (l *ledger) repeated(place string, attempt int) {
	for n, r := range l.remarks {
		if r.order && r.place == place && attempt > r.attempt {
			delete(l.remarks, n)
		}
	}
}

// remarkAbove names what waits above a hold point, or on it but for its own repeat.
func (l *ledger) remarkAbove(hold string) string {
	at := slices.Index(lawOrder, hold)
	for n, r := range l.remarks {
		own := r.place == hold && !r.order
		if r.place == "" || own || slices.Index(lawOrder[:at], r.place) >= 0 {
			return fmt.Sprintf("remark %d on %q waits", n, r.place)
		}
	}
	return ""
}

// review has somebody go through some points, or look at one check, and decide.
func (s *sequence) review() {
	by := rapid.SampledFrom([]string{"ben", "ben", "bea", "bea", "ada", "cleo"}).Draw(s.rt, "reviewer")
	args := []string{"review", sequenceJob, "--by", by}
	if s.half("one check") {
		args = slices.Insert(args, 2, s.nextCheck().ID)
	}
	if s.seldom("all") {
		args = append(args, "--all")
	}
	var lines []string
	for range rapid.IntRange(1, 4).Draw(s.rt, "words") {
		word := rapid.SampledFrom([]string{"order", "order", "ask", "say", "accept", "next", "back", "withdraw", "order"}).Draw(s.rt, "word")
		switch word {
		case "order", "accept":
			word += " " + s.reason()
			if s.seldom("twice") {
				lines = append(lines, word, "back")
			}
		case "ask", "say":
			word += " which lamp was lit"
		case "withdraw":
			word += fmt.Sprintf(" %d %s", rapid.IntRange(1, max(1, len(s.job.Remarks))).Draw(s.rt, "number"), s.reason())
		}
		lines = append(lines, word)
	}
	waited := len(s.law.remarks)
	s.run(strings.Join(append(lines, "quit"), "\n")+"\n", args...)
	for _, r := range s.job.Remarks {
		if r.Sort == report.RemarkQuestion && s.job.Stands(r) && s.half("answered") {
			s.answer()
		}
	}
	if !s.half("followed") || len(s.law.remarks) <= waited {
		return
	}
	for _, r := range s.job.Remarks { // the technician does as ordered, the engineer may accept meanwhile
		if r.Sort != report.RemarkOrder || !s.job.Stands(r) || r.Check == "" {
			continue
		}
		if s.seldom("accept first") {
			s.run("", "accept", sequenceJob, r.Check, "--by", "bea", "--why", "the maker was asked and agrees")
		}
		s.now = s.now.Add(60e9)
		s.run("", append([]string{"enter", sequenceJob, r.Check, "--repeat", "it is ordered"}, s.pairs(s.plan.Check(r.Check), nil)...)...)
		if !s.job.Stands(r) {
			s.reached["order met"]++
		}
	}
}

// answer has somebody answer a question.
func (s *sequence) answer() {
	number := rapid.IntRange(1, len(s.job.Remarks)+1).Draw(s.rt, "number")
	by := rapid.SampledFrom([]string{"ada", "ben", "bea"}).Draw(s.rt, "answers")
	for _, r := range s.job.Remarks {
		if r.Sort == report.RemarkQuestion && s.job.Stands(r) && !s.seldom("another") {
			number = r.Remark
			if s.seldom("who asked") {
				by = r.By
			}
		}
	}
	s.run("", "answer", sequenceJob, fmt.Sprint(number), "the left one, seen from the door", "--by", by)
}
