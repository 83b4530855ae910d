package session

import (
	"fmt"
	"strings"
	"time"

	"handback/records/chain"
	"handback/report"
)

// RaiseDraft is the entry that raises a defect, the next in number, or why it cannot be
// recorded.
func (s *Session) RaiseDraft(r report.Raised) (chain.Draft, error) {
	if err := Reasons(r.What); err != nil || strings.TrimSpace(r.What) == "" {
		return chain.Draft{}, Usagef("say in words what is wrong: %q does not", r.What)
	}
	if _, err := time.Parse(time.DateOnly, r.Due); r.Due != "" && err != nil {
		return chain.Draft{}, Usagef("due %q is not a date: write 2026-06-30", r.Due)
	}
	if r.Holds != "" {
		if _, err := s.Step(r.Holds); err != nil {
			return chain.Draft{}, err
		}
	}
	r.Defect = len(s.Job.Defects) + 1
	return chain.Draft{Kind: report.EntryDefect, Data: r}, nil
}

// AnswerDraft is the entry that answers a question of a review, or why it cannot be
// answered.
func (s *Session) AnswerDraft(number int, text string) (chain.Draft, error) {
	text = strings.TrimSpace(text)
	if err := s.Job.MayAnswer(number, s.By, text); err != nil {
		return chain.Draft{}, err
	}
	return chain.Draft{Kind: report.EntryAnswer, Data: report.Answered{Remark: number, Text: text}}, nil
}

// PrintRemarks tells the orders and questions that stand on a check or a step.
func (s *Session) PrintRemarks(place string) {
	for _, text := range s.Job.RemarksAt(place) {
		fmt.Fprintln(s.Env.Out, Wrapped("! "+text, "  ", s.Env.Width()))
	}
}
