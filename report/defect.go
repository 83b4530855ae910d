package report

import (
	"fmt"
	"strconv"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/chain"
)

// Defect is a numbered open point of a job.
type Defect struct {
	Raised
	Seq    int
	At     time.Time
	By     string
	Closed *Closing // nil while it is open
}

// Closing is what was done about a defect.
type Closing struct {
	Seq      int
	At       time.Time
	By, Done string
}

// Defect finds a defect by its number, nil when there is none.
func (j *Job) Defect(number int) *Defect {
	if number < 1 || number > len(j.Defects) {
		return nil
	}
	return j.Defects[number-1]
}

// raise takes up a defect: they are numbered from 1 without gaps.
func (j *Job) raise(e chain.Entry) error {
	r, err := Decode[Raised](e)
	switch {
	case err != nil:
		return err
	case r.Defect != len(j.Defects)+1:
		return fmt.Errorf("defect %d does not follow: there are %d", r.Defect, len(j.Defects))
	case r.Holds != "" && j.Plan.Step(r.Holds) == nil:
		return fmt.Errorf("defect %d holds %q, which is no step of the plan", r.Defect, r.Holds)
	}
	j.Defects = append(j.Defects, &Defect{Raised: r, Seq: e.Seq, At: e.At, By: e.By})
	return nil
}

func (j *Job) closeDefect(e chain.Entry) error {
	c, err := Decode[Closed](e)
	if err != nil {
		return err
	}
	d := j.Defect(c.Defect)
	if d == nil || d.Closed != nil {
		return fmt.Errorf("defect %d is not open", c.Defect)
	}
	d.Closed = &Closing{e.Seq, e.At, e.By, c.Done}
	return nil
}

// Name is what a defect is called where checks stand beside it.
func (d *Defect) Name() string { return "defect " + strconv.Itoa(d.Defect) }

// Words tell a defect: what and where it is, whose it is and until when.
func (d *Defect) Words() string {
	text := d.What
	for _, part := range [][2]string{{"at ", d.Where}, {"owner ", d.Owner}, {"due ", d.Due}, {"holds ", d.Holds}} {
		if part[1] != "" {
			text += "; " + part[0] + part[1]
		}
	}
	return text
}

// Overdue tells whether a defect is open after its last day.
func (d *Defect) Overdue(now time.Time) bool {
	return d.Closed == nil && d.Due != "" && now.Format(time.DateOnly) > d.Due
}

// defectGaps are the open defects that hold a step, a hold point's or a plain one.
func (j *Job) defectGaps(step string) []Gap {
	var out []Gap
	for _, d := range j.Defects {
		if d.Closed == nil && d.Holds == step {
			out = append(out, Gap{Check: d.Name(), Title: d.What, Verdict: checks.Missing, Why: "open: " + d.Words()})
		}
	}
	return out
}

// stepHeld are the open defects that hold a step, and the questions about it.
func (j *Job) stepHeld(step string) []Gap {
	out := j.defectGaps(step)
	for _, r := range j.remarksAt(step) {
		if r.Sort == RemarkQuestion && r.Step == step {
			out = append(out, j.remarkGap(r))
		}
	}
	return out
}

// Held says which open defect, or question about it, keeps a step from being done, nil for
// none.
func (j *Job) Held(s *plan.Step) error {
	for _, g := range j.stepHeld(s.ID) {
		return fmt.Errorf("step %s: do not proceed: %s: %s", s.ID, g.Name(), g.Why)
	}
	return nil
}

// defectsAgainst are the open defects that hold what was done already, or what is in
// the plan no longer.
func (j *Job) defectsAgainst() []string {
	var out []string
	for _, d := range j.Defects {
		_, taken := j.Steps[d.Holds]
		if d.Closed == nil && d.Holds != "" && (taken || j.Plan.Step(d.Holds) == nil) {
			out = append(out, d.Name()+" is open: "+d.Words())
		}
	}
	return out
}

func (j *Job) defectFlags(now time.Time) []Flag {
	var out []Flag
	for _, d := range j.Defects {
		text := d.Name() + ": " + d.Words()
		if d.Overdue(now) {
			text += "; OVERDUE"
		}
		if d.Closed != nil {
			text += "; " + j.closedWords(d)
		}
		out = append(out, Flag{Seq: d.Seq, What: FlagDefect, Text: text, Open: d.Closed == nil})
	}
	return out
}

func (j *Job) closedWords(d *Defect) string {
	return "closed " + Stamp(d.Closed.At) + " by " + j.PersonName(d.Closed.By) + ": " + d.Closed.Done
}

// DefectLine is a defect as a handover shows it.
type DefectLine struct {
	Number, Entry   int
	Words, By, When string
	State           string // OPEN, or when, by whom and how it was closed
	Open            bool
}

func (j *Job) defectLines() []DefectLine {
	var out []DefectLine
	for _, d := range j.Defects {
		line := DefectLine{Number: d.Defect, Entry: d.Seq, Words: d.Words(), By: j.PersonName(d.By), When: Stamp(d.At), State: "OPEN", Open: d.Closed == nil}
		if d.Closed != nil {
			line.State = j.closedWords(d)
		}
		out = append(out, line)
	}
	return out
}
