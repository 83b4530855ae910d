package cmd

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"handback/checks"
	"handback/checks/quantity"
	"handback/records/archive"
	"handback/report"
	"handback/report/recall"
)

// recallAnswer is what rests on an instrument, judged again.
type recallAnswer struct {
	Serial  string        `json:"serial"`
	From    string        `json:"from,omitempty"`
	To      string        `json:"to,omitempty"`
	Errors  []string      `json:"errors"`
	Touched int           `json:"touched"` // attempts
	Changed int           `json:"changed"` // of these, whose verdict is another now
	Lost    int           `json:"lost"`    // of these, passes that counted in their job and are none now
	Jobs    []recalledJob `json:"jobs"`

	Unjudged []unjudgedJob `json:"unjudged"` // jobs that used it and cannot be judged again
}

// unjudgedJob is a job from whose bag something was removed: nobody knows what rests on
// the instrument in it, so nothing of it may be taken to stand.
type unjudgedJob struct {
	Job  string `json:"job"`
	ID   string `json:"id"`
	Head string `json:"head"`
	Why  string `json:"why"`
}

type recalledJob struct {
	Job      string            `json:"job"`
	ID       string            `json:"id"`
	Head     string            `json:"head"`
	Title    string            `json:"title"`
	Site     string            `json:"site"`
	Opened   time.Time         `json:"opened"`
	Attempts []recalledAttempt `json:"attempts"`
	Follow   []saidInWords     `json:"follow_up"`
}

type recalledAttempt struct {
	Check    string            `json:"check"`
	Title    string            `json:"title"`
	Attempt  int               `json:"attempt"`
	Begun    time.Time         `json:"begun"`
	Counts   bool              `json:"counts"` // it is the newest of its check
	Direct   bool              `json:"read_with_it"`
	Then     checks.Verdict    `json:"then"`
	Now      checks.Verdict    `json:"now"`
	Why      saidInWords       `json:"why"`
	Readings []recalledReading `json:"readings"`
	Values   []recalledValue   `json:"values"`
	Follow   []saidInWords     `json:"follow_up"`
}

// recalledReading is a reading in its base unit, without and with the correction.
type recalledReading struct {
	Field string   `json:"field"`
	Label string   `json:"label"`
	Typed string   `json:"typed"`
	Unit  string   `json:"unit"`
	Was   float64  `json:"was"`
	Is    *float64 `json:"is,omitempty"` // left out where no error is stated
	U     *float64 `json:"u,omitempty"`  // what the correction is uncertain by
}

// recalledValue is a value that is judged, then and now.
type recalledValue struct {
	Key     string         `json:"key"`
	Name    string         `json:"name"`
	Unit    string         `json:"unit"`
	Low     *float64       `json:"low,omitempty"`
	High    *float64       `json:"high,omitempty"`
	Was     *float64       `json:"was,omitempty"`
	WasU    *float64       `json:"was_u,omitempty"`
	Then    checks.Verdict `json:"then"`
	Is      *float64       `json:"is,omitempty"`
	IsU     *float64       `json:"is_u,omitempty"`
	Now     checks.Verdict `json:"now"`
	Margin  *float64       `json:"margin,omitempty"` // of then
	Left    *float64       `json:"left,omitempty"`   // of now
	was, is checks.Derived
}

// add adds what was found in a job.
func (r *recallAnswer) add(x recalled) {
	if x.unjudged != nil {
		r.Unjudged = append(r.Unjudged, *x.unjudged)
	}
	if x.found == nil {
		return
	}
	for _, a := range x.found.Attempts {
		r.Touched++
		if a.Now != a.Then {
			r.Changed++
			if a.Counts && a.Then == checks.Pass {
				r.Lost++
			}
		}
	}
	r.Jobs = append(r.Jobs, *x.found)
}

func newRecalledJob(s archive.State, j *report.Job, touched []recall.Touched) *recalledJob {
	job := recalledJob{Job: s.Job, ID: s.ID, Head: s.Head, Title: s.Title, Site: s.Site, Opened: j.OpenedAt, Follow: inWords("recall", recall.JobFollow(j, touched))}
	for _, t := range touched {
		job.Attempts = append(job.Attempts, newRecalledAttempt(t))
	}
	return &job
}

func newRecalledAttempt(t recall.Touched) recalledAttempt {
	c := t.State.Check
	a := recalledAttempt{Check: c.ID, Title: c.Title, Attempt: t.Attempt.Number, Begun: t.Attempt.First, Counts: t.Newest, Direct: t.Direct, Then: t.Then, Now: t.Now,
		Why: saidInWords{t.Why.Code, report.GroupWords("recall", t.Why)}, Follow: inWords("recall", t.Follow)}
	for _, x := range t.Readings {
		read := recalledReading{Field: x.Field.Key, Label: x.Field.Label, Typed: x.Typed, Unit: quantity.BaseUnit(quantity.QuantityOf(x.Field.Unit)), Was: x.Was}
		if x.Known {
			read.Is, read.U = finite(x.Is), finite(x.By)
		}
		a.Readings = append(a.Readings, read)
	}
	for _, v := range t.Values {
		a.Values = append(a.Values, recalledValue{Key: v.Was.Key, Name: v.Was.Name, Unit: v.Was.Unit, Low: finite(v.Was.Limit.Low), High: finite(v.Was.Limit.High),
			Was: finite(v.Was.Value), WasU: finite(v.Was.U), Then: v.Was.Verdict, Is: finite(v.Is.Value), IsU: finite(v.Is.U), Now: v.Is.Verdict,
			Margin: finite(v.Was.Margin()), Left: finite(v.Is.Margin()), was: v.Was, is: v.Is})
	}
	return a
}

// print tells it for people: what changed in full, what stands in a line.
func (r recallAnswer) print(w io.Writer, all bool) error {
	days := ""
	for _, x := range [][2]string{{"from", r.From}, {"to", r.To}} {
		if x[1] != "" {
			days += " " + x[0] + " " + x[1]
		}
	}
	fmt.Fprintf(w, "instrument %s%s, error %s\n", r.Serial, days, someWords("not known", r.Errors...))
	fmt.Fprintf(w, "attempts that rest on it: %d, in %s; verdicts that come out otherwise: %d; passes that counted and are none any longer: %d\n",
		r.Touched, report.Count(len(r.Jobs), "job", "jobs"), r.Changed, r.Lost)
	for _, u := range r.Unjudged {
		fmt.Fprintf(w, "NOT JUDGED: job %s, record %s used it: %s\n", u.ID, report.ShortHash(u.Head), u.Why)
	}
	for _, j := range r.Jobs {
		fmt.Fprintf(w, "\njob %s, %s, %s, record %s\n", j.ID, j.Site, j.Opened.Format(time.DateOnly), report.ShortHash(j.Head))
		for _, a := range j.Attempts {
			if err := a.print(w, all); err != nil {
				return err
			}
		}
		for _, s := range j.Follow {
			fmt.Fprintf(w, "  %s\n", s.Words)
		}
	}
	return nil
}

func (a recalledAttempt) print(w io.Writer, all bool) error {
	verdict := a.Then.Shown()
	if a.Now != a.Then {
		verdict += ", NOW " + a.Now.Shown()
	}
	var about []string
	if !a.Direct {
		about = append(about, "rests on readings of it")
	}
	if !a.Counts {
		about = append(about, "not the newest attempt")
	}
	fmt.Fprintf(w, "  %s: %s, attempt %d%s: %s\n", verdict, a.Check, a.Attempt, strings.Join(slices.Insert(about, 0, ""), ", "), a.Why.Words)
	for _, s := range a.Follow {
		fmt.Fprintf(w, "    %s\n", s.Words)
	}
	if a.Now == a.Then && !all {
		return nil
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, x := range a.Readings {
		now := "not known"
		if x.Is != nil {
			now = quantity.Spell(*x.Is, x.Unit)
			if *x.U > 0 {
				now += " ± " + quantity.Significant(*x.U, 2) + quantity.WithUnit(x.Unit)
			}
		}
		fmt.Fprintf(tw, "    read\t%s\t%s\tcorrected %s\n", x.Label, x.Typed, now)
	}
	for _, v := range a.Values {
		fmt.Fprintf(tw, "    %s\t%s\t%s, margin %s\tnow %s, margin %s\t%s\n", v.Now, v.Name, v.was.Text(), someWords("none", v.was.MarginText()), v.is.Text(), someWords("none", v.is.MarginText()), v.was.BareLimit())
	}
	return tw.Flush()
}
