package cmd

import (
	"fmt"
	"strings"
	"text/tabwriter"
	"time"

	"handback/checks"
	"handback/checks/quantity"
	"handback/cmd/session"
	"handback/report"
	"handback/report/fieldsheet"
)

// show prints what was understood and what the checks would come to.
func (in *intake) show(o *readOptions) error {
	out := o.env.Out
	if !in.adds {
		fmt.Fprintf(out, "%s adds nothing: %s\n", o.file, in.same())
		return nil
	}
	tw := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "CHECK\tFIELD\tTYPED\tUNDERSTOOD\tFROM")
	for _, c := range in.checks {
		for _, f := range c.form {
			if a, ok := c.Answers[f.Key]; ok {
				fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\n", c.Check.ID, f.Label, report.OneLine(a.Typed), understood(f, a, o.env.Now()), c.Places[f.Key])
			}
		}
		for _, text := range c.Notes {
			fmt.Fprintf(tw, "%s\tnote\t\t%s\t\n", c.Check.ID, report.OneLine(text))
		}
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	for _, c := range in.checks {
		switch {
		case c.finding != nil:
			fmt.Fprintf(out, "\n%s, attempt %d, would come to:\n", c.Check.ID, c.Attempt)
			session.PrintFinding(out, c.input.Check.Kind, *c.finding, session.Briefly)
		case len(c.missing) > 0:
			fmt.Fprintf(out, "\n%s, attempt %d: not judged yet, still needed: %s\n", c.Check.ID, c.Attempt, strings.Join(c.missing, ", "))
		}
	}
	if in.Same > 0 {
		fmt.Fprintf(out, "\n%s\n", in.same())
	}
	return nil
}

func (in *intake) same() string {
	switch in.Same {
	case 0:
		return "nothing is filled in"
	case 1:
		return "1 value is recorded already"
	}
	return fmt.Sprintf("%d values are recorded already", in.Same)
}

// understood is an answer without its label; a time with its date, which was not
// typed perhaps.
func understood(f checks.Field, a checks.Answer, now time.Time) string {
	if a.NotThere != "" {
		return "not there"
	}
	switch f.Sort {
	case checks.Measured:
		return a.Bound + quantity.Number(quantity.FromBase(a.Value, f.Unit)) + " " + f.Unit
	case checks.Count:
		return quantity.Number(a.Value)
	case checks.Instant:
		return a.Time().In(now.Location()).Format("2006-01-02 15:04:05")
	}
	return report.OneLine(a.Word)
}

// refuse names everything that is not taken; nothing is stored.
func (o *readOptions) refuse(wrong []fieldsheet.CellError) error {
	if o.json {
		if err := printJSON(o.env.Out, o.refused(wrong)); err != nil {
			return err
		}
	} else {
		for _, e := range wrong {
			fmt.Fprintf(o.env.Err, "  %s\n", e.Error())
		}
	}
	return fmt.Errorf("%s: %s above; nothing was stored", o.file, report.Count(len(wrong), "fault is named", "faults are named"))
}

// readDocument is the answer of read as JSON.
type readDocument struct {
	Job    string                 `json:"job"`
	File   string                 `json:"file"`
	Stored bool                   `json:"stored"`
	Same   int                    `json:"same"` // values the record holds already
	Checks []readCheck            `json:"checks"`
	Errors []fieldsheet.CellError `json:"errors"`
}

type readCheck struct {
	Check   string         `json:"check"`
	Attempt int            `json:"attempt"`
	Repeats string         `json:"repeats_because,omitempty"`
	Answers []readAnswer   `json:"answers"`
	Notes   []string       `json:"notes"`
	Missing []string       `json:"missing"`
	Finding *findingReport `json:"finding"` // null while something is missing
}

type readAnswer struct {
	Key  string `json:"key"`
	From string `json:"from"`
	checks.Answer
}

// refused is the document of a file that is not taken.
func (o *readOptions) refused(wrong []fieldsheet.CellError) readDocument {
	return readDocument{Job: o.job, File: o.file, Checks: []readCheck{}, Errors: wrong}
}

func (in *intake) document(o *readOptions) readDocument {
	d := readDocument{Job: o.job, File: o.file, Stored: o.yes && in.adds, Same: in.Same, Checks: []readCheck{}, Errors: []fieldsheet.CellError{}}
	for _, c := range in.checks {
		rc := readCheck{Check: c.Check.ID, Attempt: c.Attempt, Repeats: c.Why, Answers: []readAnswer{}, Notes: append([]string{}, c.Notes...), Missing: append([]string{}, c.missing...)}
		for _, f := range c.form {
			if a, ok := c.Answers[f.Key]; ok {
				rc.Answers = append(rc.Answers, readAnswer{f.Key, c.Places[f.Key], a})
			}
		}
		if c.finding != nil {
			rep := newFindingReport(c.input, *c.finding)
			rc.Finding = &rep
		}
		d.Checks = append(d.Checks, rc)
	}
	return d
}
