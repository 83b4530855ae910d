package cmd

import (
	"fmt"
	"strings"

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
	return fmt.Sprintf("entry %d there, by %s, %s%s: %s", e.Seq, j.Job.PersonName(is.By), report.Stamp(is.At), place, j.says(is))
}

// kindWords are what the kinds of entries are called where somebody decides about them.
var kindWords = map[string]string{
	report.EntryRead: "reading", report.EntryJudge: "finding", report.EntryCorrect: "correction", report.EntrySkip: "skipped", report.EntryNote: "note",
	report.EntryConcede: "acceptance", report.EntryStep: "step", report.EntryUndo: "step undone", report.EntryLeft: "step left", report.EntryFound: "device found otherwise",
	report.EntryBad: "instrument found bad", report.EntryDefect: "defect", report.EntryClose: "defect closed", report.EntryAmend: "amendment", report.EntryAccept: "acceptance of the plan",
	report.EntryRemark: "remark", report.EntryAnswer: "answer", report.EntryWithdraw: "withdrawal", report.EntryReview: "review", report.EntrySign: "signature",
	report.EntryAttach: "attachment", report.EntryAdopt: "adoption", report.EntryJoin: "join",
}

// says tells what an entry says, by its kind.
func (j *joiner) says(e chain.Entry) string {
	text := report.EntryWords(e)
	if d, err := report.Decode[report.Conceded](e); e.Kind == report.EntryConcede && err == nil {
		text = j.Job.PersonName(d.Engineer) + strings.TrimPrefix(text, d.Engineer)
	}
	return kindWords[e.Kind] + ": " + text
}

// leftWords tell why an entry is left that nobody decides, and of an acceptance why it does
// not hold here.
func (j *joiner) leftWords(e chain.Entry, code string) string {
	if why, ok := j.holdsHere(e); ok && why != nil {
		return leftWords[code] + "; it does not hold here: " + why.Error()
	}
	return leftWords[code]
}

// leftOpen tells what was given for the other side alone, for who misses it here.
func (j *joiner) leftOpen() []string {
	var out []string
	for i, e := range j.open {
		if c := j.made[i]; (c.code == fork.LeftSigned || c.code == fork.LeftPlan) && !c.carry {
			out = append(out, j.words(e)+": left: "+report.JoinWords(j.leftWords(e, c.code), c.why))
		}
	}
	return out
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
		out = append(out, fmt.Sprintf("entry %d, by %s, %s: %s", x.Seq, j.Job.PersonName(x.By), report.Stamp(x.At), j.says(x)))
	}
	return out
}

func (c choice) words() string {
	text := "left"
	if c.adopt {
		text = "adopted"
	}
	if c.carry {
		return "accepted here too"
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
		case c.adopt || c.carry:
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
