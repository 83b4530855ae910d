package cmd

import (
	"cmp"
	"context"
	"fmt"
	"iter"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
	"handback/report/seal"
)

type archiveDueOptions struct {
	*archiveAt
	days int
	json bool
}

func newArchiveDue(at *archiveAt) *cobra.Command {
	o := &archiveDueOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "due", Short: "what jobs of the archive left open", Args: exactly(),
		Long: `List what the newest states of all jobs left open:
  soak         a soak that was not ended
  defect       one that nobody closed, those that are overdue first
  concession   one without follow-up: no later job of the same plan on the same site has
               that check passed
  calibration  an instrument that jobs of the last two years rest on, whose calibration
               has run out by the newest of them, or runs out within --days; what its next
               calibration finds, archive recall tells of those jobs
  keep         a job that need not be kept any more (archive keep); nothing is deleted
               by itself
  removed      a job from which entries were removed: what they left open nobody can tell`,
		Example: "  handback archive due\n  handback archive due --days 90",
		RunE:    taking(runArchiveDue, o),
	}
	c.Flags().IntVar(&o.days, "days", 60, "how many days ahead the end of a calibration is told")
	jsonFlag(c, &o.json)
	return c
}

// What a job left open. These words are printed.
const (
	dueSoak        = "soak"
	dueDefect      = "defect"
	dueConcession  = "concession"
	dueCalibration = "calibration"
	dueKeep        = "keep"
	dueRemoved     = "removed"
)

// restsFor is for how many years a job rests on an instrument that was not calibrated since
// (our choice: most are calibrated each year, and of one that is gone nobody learns more).
const restsFor = 2

// dueLine is something that a job left open.
type dueLine struct {
	What    string `json:"what"` // soak, defect, concession, calibration, keep or removed
	Job     string `json:"job"`  // identifier; of an instrument the newest that used it
	Head    string `json:"head"`
	ID      string `json:"id"`
	Site    string `json:"site"`
	Last    string `json:"last"`  // when the newest entry of the job was made
	Name    string `json:"name"`  // of check or defect, serial number, what was removed
	Text    string `json:"text"`  // in words
	Who     string `json:"who"`   // owner of a defect, engineer of a concession, who said until when to keep, who removed
	Until   string `json:"until"` // last day of a defect, a calibration or keeping
	Overdue bool   `json:"overdue"`
}

func runArchiveDue(ctx context.Context, o *archiveDueOptions) error {
	if o.days < 0 {
		return session.Usagef("--days %d: a number of days ahead is wanted", o.days)
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		out, today := []dueLine{}, o.env.Now().Format(time.DateOnly)
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
		if err == nil {
			err = o.calibrations(ctx, a, &out)
		}
		if err == nil {
			err = o.states(ctx, a, &out)
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

// calibrations adds the instruments whose calibration runs out, those first that ran out
// longest ago. A job that tells of a later calibration takes an instrument off the list.
func (o *archiveDueOptions) calibrations(ctx context.Context, a *archive.Archive, out *[]dueLine) error {
	now := o.env.Now()
	today, ahead := now.Format(time.DateOnly), now.AddDate(0, 0, o.days).Format(time.DateOnly)
	type used struct {
		dueLine
		heads map[string]bool
		until string
		said  string
	}
	all := map[string]*used{}
	for d, err := range a.UsedInstruments(ctx, archive.Moment(now.AddDate(-restsFor, 0, 0))) {
		if err != nil {
			return err
		}
		serial := plan.PlainSerial(d.Row.Serial)
		u := all[serial]
		if u == nil {
			u = &used{heads: map[string]bool{}}
			all[serial] = u
		}
		u.heads[d.Row.Head] = true
		u.dueLine = dueLine{What: dueCalibration, Job: d.Row.Job, Head: d.Row.Head, ID: d.ID, Site: d.Site, Last: d.Last, Name: d.Row.Serial} // the newest comes last
		if d.Row.Due >= u.until {
			u.until, u.said = d.Row.Due, someWords("", d.Row.Name, d.Row.Certificate)
		}
	}
	var found []dueLine
	for _, u := range all {
		if u.until <= ahead {
			u.Text = fmt.Sprintf("%s; used in %s", u.said, report.Count(len(u.heads), "job", "jobs"))
			u.Until, u.Overdue = u.until, u.until < today
			found = append(found, u.dueLine)
		}
	}
	slices.SortFunc(found, func(x, y dueLine) int { return cmp.Or(cmp.Compare(x.Until, y.Until), cmp.Compare(x.Name, y.Name)) })
	*out = append(*out, found...)
	return nil
}

// states adds the jobs that need not be kept any more, and those that are not whole.
func (o *archiveDueOptions) states(ctx context.Context, a *archive.Archive, out *[]dueLine) error {
	keeps, err := a.Keeps(ctx)
	if err != nil {
		return err
	}
	today := archive.Day(o.env.Now().UTC())
	var past, reduced []dueLine
	for f, err := range a.Find(ctx, archive.Query{}) {
		if err != nil {
			return err
		}
		x := dueLine{Job: f.Job, Head: f.Head, ID: f.ID, Site: f.Site, Last: f.Last}
		if f.Removed {
			reduced = append(reduced, x)
		}
		if day, by := keeps.Until(f); day != "" && day < today {
			x.What, x.Until, x.Who, x.Text = dueKeep, day, by.Person, "need not be kept any more: "+by.Why
			past = append(past, x)
		}
	}
	slices.SortStableFunc(past, func(x, y dueLine) int { return cmp.Compare(x.Until, y.Until) })
	*out = append(*out, past...)
	for _, x := range reduced {
		b, err := a.ByHead(ctx, x.Head)
		if err != nil {
			return err
		}
		removed, err := a.Removals(ctx, b.Number)
		if err != nil {
			return err
		}
		if x, err = removedFrom(x, removed); err != nil {
			return err
		}
		if x.Name != "" {
			*out = append(*out, x)
		}
	}
	return nil
}

// removedFrom tells which entries were removed from a job; a name of "" where none was.
func removedFrom(x dueLine, removed []archive.Removal) (dueLine, error) {
	x.What = dueRemoved
	var entries []string
	for _, r := range removed {
		said, err := seal.ReadRemoved(r.Body)
		if err != nil {
			return x, fmt.Errorf("%w: removal %d: %w", archive.ErrDamaged, r.Number, err)
		}
		for _, e := range said.Acts[len(said.Acts)-1].Entries {
			entries = append(entries, "entry "+strconv.Itoa(e.Entry))
			x.Who, x.Text = r.Person, "what was left open there nobody can tell: "+r.Why
		}
	}
	x.Name = strings.Join(entries, ", ")
	return x, nil
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
