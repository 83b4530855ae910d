package cmd

import (
	"fmt"

	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
)

// words tell an entry of the other side.
func (j *joiner) words(e chain.Entry) string {
	is := j.line[e.Seq-1]
	place := ""
	if is.Check != "" {
		place = ", " + is.Check
	}
	return fmt.Sprintf("entry %d there, by %s, %s%s: %s: %s", e.Seq, j.Job.PersonName(is.By), report.Stamp(is.At), place, is.Kind, report.EntryWords(is))
}

// beside are the entries here, since the parting, of the same check or step.
func (j *joiner) beside(e chain.Entry) []string {
	var out []string
	is := j.line[e.Seq-1]
	step := report.StepOf(is)
	for _, x := range j.Job.Counted()[j.fork.After:] {
		if is.Check == "" && step == "" || x.Check != is.Check || report.StepOf(x) != step {
			continue
		}
		out = append(out, fmt.Sprintf("entry %d, by %s, %s: %s: %s", x.Seq, j.Job.PersonName(x.By), report.Stamp(x.At), x.Kind, report.EntryWords(x)))
	}
	return out
}

func (c choice) words() string {
	text := "left"
	if c.adopt {
		text = "adopted"
	}
	if c.code != "" {
		text += ": " + leftWords[c.code]
	}
	return report.JoinWords(text, c.why)
}

// sum counts what was decided.
func (j *joiner) sum() string {
	adopted, left, same := 0, 0, 0
	for _, c := range j.made {
		switch {
		case c.adopt:
			adopted++
		case c.code == fork.LeftSame:
			same++
		default:
			left++
		}
	}
	return fmt.Sprintf("of %s behind entry %d: %d adopted, %d left, %d the same on both sides", report.Count(len(j.made), "entry", "entries"), j.fork.After, adopted, left, same)
}

// forkReport is another continuation of the job that is not joined.
type forkReport struct {
	ID string `json:"id"` // in this book
	fork.Fork
	words string
}

func forks(j *report.Job) []forkReport {
	var out []forkReport
	for _, f := range j.Forks() {
		out = append(out, forkReport{f.ID, f, j.ForkWords(f)})
	}
	return out
}
