package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/checks/trend"
	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
	"handback/report/files"
	"handback/report/page"
	"handback/report/years"
)

type archiveTrendOptions struct {
	*archiveAt
	name, site, out string
	force, json     bool
}

func newArchiveTrend(at *archiveAt) *cobra.Command {
	o := &archiveTrendOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "trend PLANT[/CHECK[/POINT]]", Short: "how a value of a piece of plant went over the years", Args: exactly("PLANT/CHECK/POINT"),
		Long: `Tell how one value went over all jobs on a piece of plant: each with its uncertainty,
limit and verdict, the drift a year, the change since the first and since the baseline
of the plan, and when the limit will be reached.

PLANT is the serial or asset number of a piece of plant, its id in the plans, or the id
of a plan; CHECK the id of a check in it, POINT the key of a value that the check works
out. Without POINT, or CHECK, what there is is listed. Where an id means plant of several
sites or serial numbers, say which: by its serial number, or with --site.

The line is straight and weighted by the uncertainties. A date is said only of at least
three values on different days that follow no bent line, with a drift beyond its
uncertainty, and no farther on than the values span. All intervals are of 95.45 %, as
U = 2u is. A date says when, if all goes on so; it is no leave to wait for it.

-o FILE writes the values as a table, .csv, or a picture, .svg.`,
		Example: "  handback archive trend BCW-21413\n  handback archive trend BCW-21413/joints/r_1\n  handback archive trend T2/joints/r_1 --site 'pumping station' -o joint-1.svg",
		RunE:    taking(runArchiveTrend, o, &o.name),
	}
	c.Flags().StringVar(&o.site, "site", "", "words of the site or its address, where several have such plant")
	outputFlag(c, &o.out, &o.force)
	jsonFlag(c, &o.json)
	return c
}

// course is what a name means: its last two parts are check and key, for asset numbers may
// hold the sign that parts them.
func (o *archiveTrendOptions) course() []archive.Course {
	parts := strings.Split(o.name, "/")
	n := len(parts)
	join := func(to int) string { return strings.Join(parts[:to], "/") }
	out := []archive.Course{}
	if n >= 3 {
		out = append(out, archive.Course{Plant: join(n - 2), Check: parts[n-2], Key: parts[n-1], Site: o.site})
	}
	if n >= 2 {
		out = append(out, archive.Course{Plant: join(n - 1), Check: parts[n-1], Site: o.site})
	}
	return append(out, archive.Course{Plant: o.name, Site: o.site})
}

func runArchiveTrend(ctx context.Context, o *archiveTrendOptions) error {
	if ext := strings.ToLower(filepath.Ext(o.out)); o.out != "" && ext != ".csv" && ext != ".svg" {
		return session.Usagef("-o %s: name a file ending in .csv or .svg", o.out)
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		for _, c := range o.course() {
			values, err := a.Values(ctx, c)
			if err != nil {
				return err
			}
			if len(values) == 0 {
				continue
			}
			if err := o.single(values); err != nil {
				return err
			}
			if c.Key == "" {
				return o.list(c.Plant, values)
			}
			return o.tell(ctx, a, values)
		}
		of := ""
		if o.site != "" {
			of = fmt.Sprintf(" of the site %.80q", o.site)
		}
		next := o.hint("find")
		if plant := o.course()[0].Plant; plant != o.name {
			next = o.hint("trend", plant)
		}
		return fmt.Errorf("no value of %.120q%s in the archive; type: %s", o.name, of, next)
	})
}

// single refuses values of more than one piece of plant.
func (o *archiveTrendOptions) single(values []archive.CourseValue) error {
	var sites, serials []string
	for _, v := range values {
		if !slices.Contains(sites, v.Site) {
			sites = append(sites, v.Site)
		}
		if v.PlantSerial != "" && !slices.Contains(serials, v.PlantSerial) {
			serials = append(serials, v.PlantSerial)
		}
	}
	const most = 5
	some := func(names []string) string {
		if more := len(names) - most; more > 0 {
			return strings.Join(names[:most], "; ") + fmt.Sprintf(" and %d more", more)
		}
		return strings.Join(names, "; ")
	}
	switch {
	case len(sites) > 1:
		return session.Usagef("%s means plant of several sites, say which with --site: %s", o.name, some(sites))
	case len(serials) > 1:
		return session.Usagef("%s had several serial numbers, say which instead of it: %s", o.name, some(serials))
	}
	return nil
}

// pointAnswer is a value that a trend may be asked of.
type pointAnswer struct {
	Name   string `json:"name"` // to type
	What   string `json:"what"`
	Unit   string `json:"unit"`
	Values int    `json:"values"`
}

// list tells what there is to ask of.
func (o *archiveTrendOptions) list(plant string, values []archive.CourseValue) error {
	points := []pointAnswer{}
	for _, v := range values {
		name := plant + "/" + v.Check + "/" + v.Key
		i := slices.IndexFunc(points, func(p pointAnswer) bool { return p.Name == name })
		if i < 0 {
			i = len(points)
			points = append(points, pointAnswer{Name: name, What: v.Name, Unit: v.Unit})
		}
		points[i].Values++
	}
	slices.SortStableFunc(points, func(a, b pointAnswer) int { return strings.Compare(a.Name, b.Name) })
	switch {
	case o.out != "":
		return session.Usagef("-o goes with PLANT/CHECK/POINT: %s and %s", points[0].Name, report.Count(len(points)-1, "other", "others"))
	case o.json:
		return printJSON(o.env.Out, trendAnswer{Points: points})
	}
	tw := tabwriter.NewWriter(o.env.Out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "POINT\tVALUES\tUNIT\tWHAT")
	for _, p := range points {
		fmt.Fprintf(tw, "%s\t%d\t%s\t%s\n", p.Name, p.Values, p.Unit, p.What)
	}
	return tw.Flush()
}

// tell shows the trend.
func (o *archiveTrendOptions) tell(ctx context.Context, a *archive.Archive, values []archive.CourseValue) error {
	t, err := o.work(ctx, a, values)
	if err != nil {
		return err
	}
	title := o.name + ": " + t.Name
	if o.out != "" {
		return o.write(&t, title)
	}
	if o.json {
		return printJSON(o.env.Out, newTrendAnswer(o.name, &t))
	}
	return printTrend(o.env.Out, title, &t)
}

// work works the trend of values out.
func (o *archiveTrendOptions) work(ctx context.Context, a *archive.Archive, values []archive.CourseValue) (trend.Trend, error) {
	last := values[len(values)-1]
	s := trend.Series{Name: last.Name, Unit: neatUnit(values, last.Unit)}
	for i, v := range values {
		if v.Kind != last.Kind || v.Place != last.Place {
			fmt.Fprintf(o.env.Err, "job %s, %s: left out, for its check %s is another (%s, %s)\n", v.ID, report.ShortHash(v.Head), v.Check, v.Kind, v.Place)
			continue
		}
		if i > 0 && v.Job == values[i-1].Job && v.Judged == values[i-1].Judged {
			continue // two newest states of a job share it, or the plant was named in two ways
		}
		x, ok := valueOf(v, s.Unit)
		if !ok {
			fmt.Fprintf(o.env.Err, "job %s, %s: left out, for its value is in %s\n", v.ID, report.ShortHash(v.Head), v.Unit)
			continue
		}
		s.Values = append(s.Values, x)
	}
	j, done, err := archivedFold(ctx, a, last.Head)
	switch {
	case errors.Is(err, errReduced):
		fmt.Fprintf(o.env.Err, "without the baseline of the plan: job %s: %v\n", last.ID, err)
	case err != nil:
		return trend.Trend{}, err
	default:
		defer done()
		s.Base = baselineOf(j, last.Check, last.Key, s.Unit)
	}
	return trend.Of(s, o.env.Now()), nil
}

// neatUnit is the unit in which values of a unit are told together: that of the least.
func neatUnit(values []archive.CourseValue, unit string) string {
	least := math.Inf(1)
	for _, v := range values {
		if v.Unit == unit && v.Value != nil && *v.Value != 0 {
			least = math.Min(least, math.Abs(*v.Value))
		}
	}
	return quantity.NeatUnit(least, unit)
}

// valueOf is a value of an archive in a unit; ok is false where its own is of another
// quantity.
func valueOf(v archive.CourseValue, unit string) (x trend.Value, ok bool) {
	of := quantity.QuantityOf(v.Unit)
	if v.Unit != unit && (of == "" || of != quantity.QuantityOf(unit)) {
		return x, false
	}
	to := func(n *float64) float64 {
		if n == nil || v.Unit == unit {
			return quantity.OrNaN(n)
		}
		return quantity.FromBase(quantity.ToBase(*n, v.Unit), unit)
	}
	width := func(n *float64) float64 { // a difference knows no offset
		zero := 0.0
		return to(n) - to(&zero)
	}
	x = trend.Value{X: to(v.Value), Standard: width(v.Standard), U: width(v.Uncertainty), Bound: v.Bound, Low: to(v.Low), High: to(v.High), Job: v.ID, Serial: v.Serial, Lapsed: v.Lapsed}
	x.At, _ = time.Parse(time.RFC3339, v.Judged) // written by Moment
	_ = x.Verdict.UnmarshalText([]byte(v.Verdict))
	if v.CheckVerdict == checks.Void.String() {
		x.Verdict = checks.Void
	}
	return x, true
}

// baselineOf is what the plan of a job gives for a value, nil where it gives nothing.
func baselineOf(j *report.Job, check, key, unit string) *trend.Baseline {
	for _, b := range j.Plan.Baselines(check) {
		if b.Key == key && quantity.QuantityOf(unit) == b.Was.Of {
			return &trend.Baseline{X: quantity.FromBase(b.Was.Value, unit), Source: b.Source, Date: b.Date}
		}
	}
	return nil
}

// write writes the table or the picture.
func (o *archiveTrendOptions) write(t *trend.Trend, title string) error {
	var data bytes.Buffer
	if strings.EqualFold(filepath.Ext(o.out), ".csv") {
		if err := years.Table(&data, t); err != nil {
			return err
		}
	} else if data.WriteString(page.YearsFile(t, title)); data.Len() == 0 {
		return fmt.Errorf("%s: there is no number to draw", o.name)
	}
	if err := files.Write(o.out, data.Bytes(), over(o.env, output{path: o.out}, o.force)); err != nil {
		return err
	}
	_, err := fmt.Fprintln(o.env.Out, o.out)
	return err
}

func printTrend(w io.Writer, title string, t *trend.Trend) error {
	fmt.Fprintln(w, title)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	fmt.Fprintln(tw, "DAY\tVALUE\tLIMIT\tVERDICT\tJOB\tINSTRUMENT")
	for _, v := range t.Values {
		d := checks.Derived{Value: v.X, Unit: t.Unit, Spread: calc.Spread{U: v.U}}
		verdict, limit := "not judged", "none"
		if quantity.Finite(v.Low) || quantity.Finite(v.High) {
			d.Limit = &checks.Limit{Low: v.Low, High: v.High}
			verdict, limit = v.Verdict.String(), d.BareLimit()
		}
		if v.Lapsed {
			verdict += ", does not count"
		}
		fmt.Fprintf(tw, "%s\t%s%s\t%s\t%s\t%s\t%s\n", v.At.Format(time.DateOnly), v.Bound, d.Text(), limit, verdict, v.Job, v.Serial)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	if plot := years.Plot(t); plot != "" {
		fmt.Fprintf(w, "\n%s, %s\n%s%s\n\n", t.Name, t.Unit, plot, years.Signs)
	}
	for _, s := range t.Says {
		fmt.Fprintln(w, report.GroupWords("trend", s))
	}
	return nil
}
