package cmd

import (
	"context"
	"fmt"
	"iter"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/records/archive"
	"handback/report"
)

type archiveDueOptions struct {
	*archiveAt
	json bool
}

func newArchiveDue(at *archiveAt) *cobra.Command {
	o := &archiveDueOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "due", Short: "what jobs of the archive left open", Args: exactly(),
		Long: `List what the newest states of all jobs left open: soaks that were not ended, defects
that nobody closed, those that are overdue first, and concessions without follow-up: no
later job of the same plan on the same site has that check passed.`,
		Example: "  handback archive due",
		RunE:    taking(runArchiveDue, o),
	}
	jsonFlag(c, &o.json)
	return c
}

// What a job left open. These words are printed.
const (
	dueSoak       = "soak"
	dueDefect     = "defect"
	dueConcession = "concession"
)

// dueLine is something that a job left open.
type dueLine struct {
	What    string `json:"what"` // soak, defect or concession
	Job     string `json:"job"`  // identifier
	Head    string `json:"head"`
	ID      string `json:"id"`
	Site    string `json:"site"`
	Last    string `json:"last"`  // when the newest entry of the job was made
	Name    string `json:"name"`  // of check or defect
	Text    string `json:"text"`  // in words
	Who     string `json:"who"`   // owner of a defect, engineer of a concession
	Until   string `json:"until"` // last day of a defect
	Overdue bool   `json:"overdue"`
}

func runArchiveDue(ctx context.Context, o *archiveDueOptions) error {
	return o.reading(ctx, func(a *archive.Archive) error {
		out := []dueLine{}
		today := o.env.Now().Format("2006-01-02")
		err := gatherDue(&out, a.OpenChecks(ctx, dueSoak, report.StandsOpen, report.StandsStop), func(c archive.Check) (archive.Of, dueLine) {
			return c.Of, dueLine{What: dueSoak, Name: c.Check, Text: c.Title + ": " + c.Verdict}
		})
		if err == nil {
			err = gatherDue(&out, a.OpenDefects(ctx), func(d archive.Defect) (archive.Of, dueLine) {
				return d.Of, dueLine{What: dueDefect, Name: fmt.Sprint(d.Number), Text: someWords("", d.What, d.Place), Who: d.Owner, Until: d.Due, Overdue: d.Due != "" && d.Due < today}
			})
		}
		if err == nil {
			err = gatherDue(&out, a.OpenConcessions(ctx, checks.Pass.String()), func(c archive.Concession) (archive.Of, dueLine) {
				return c.Of, dueLine{What: dueConcession, Name: c.Check, Text: c.Verdict + " accepted: " + c.Reason, Who: c.Engineer}
			})
		}
		switch {
		case err != nil:
			return err
		case o.json:
			return printJSON(o.env.Out, out)
		}
		return o.print(out)
	})
}

func gatherDue[R any](out *[]dueLine, of iter.Seq2[archive.Due[R], error], line func(R) (archive.Of, dueLine)) error {
	for d, err := range of {
		if err != nil {
			return err
		}
		state, x := line(d.Row)
		x.Job, x.Head, x.ID, x.Site, x.Last = state.Job, state.Head, d.ID, d.Site, d.Last
		*out = append(*out, x)
	}
	return nil
}

func (o *archiveDueOptions) print(list []dueLine) error {
	if len(list) == 0 {
		fmt.Fprintln(o.env.Err, "nothing is open")
		return nil
	}
	tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "OPEN\tJOB\tIDENTIFIER\tLAST\tWHICH\tWHO\tDUE\tWHAT")
	for _, d := range list {
		until := d.Until
		if d.Overdue {
			until += " OVERDUE"
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t%s\t%s\t%s\t%s\t%s\n", d.What, d.ID, report.ShortHash(d.Job), d.Last[:10], d.Name, d.Who, until, d.Text)
	}
	return tw.Flush()
}
