package cmd

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/archive"
	"handback/records/chain"
	"handback/report"
)

type archiveFindOptions struct {
	*archiveAt
	query archive.Query
	json  bool
}

func newArchiveFind(at *archiveAt) *cobra.Command {
	o := &archiveFindOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "find", Short: "find jobs in the archive", Args: exactly(),
		Long: `Find jobs by what is in their newest states, one line each, the one worked on last first.
All that is asked must hold; nothing asked finds every job. --plant, --site, --firm,
--person and --text take some words of a name or text, in letters of either size;
serial and asset numbers are taken whole. --verdict is that of the job, or with --kind
that of a check of the kind. A day of --from or --to is one in UTC, of the newest entry.`,
		Example: "  handback archive find --serial BCW-21413\n  handback archive find --kind insulation --verdict fail --from 2020-01-01\n  handback archive find --site pumping --defect-open --json",
		RunE:    taking(runArchiveFind, o),
	}
	q, f := &o.query, c.Flags()
	f.StringVar(&q.Plant, "plant", "", "id of a piece of plant, or words of what it is called")
	f.StringVar(&q.Serial, "serial", "", "serial number of a piece of plant")
	f.StringVar(&q.Asset, "asset", "", "asset number of a piece of plant")
	f.StringVar(&q.Site, "site", "", "words of the site or its address")
	f.StringVar(&q.Firm, "firm", "", "words of a firm that tested, or that somebody works for")
	f.StringVar(&q.From, "from", "", "first day, such as 2020-01-31")
	f.StringVar(&q.To, "to", "", "last day")
	f.StringVar(&q.Kind, "kind", "", "kind of a check")
	f.StringVar(&q.Verdict, "verdict", "", "verdict")
	f.StringVar(&q.Instrument, "instrument", "", "serial number of an instrument that was used")
	f.StringVar(&q.Person, "person", "", "words of the name, or the id, of who worked on it or signed")
	f.StringVar(&q.Text, "text", "", "words of titles, notes, defects, concessions and remarks")
	f.BoolVar(&q.DefectOpen, "defect-open", false, "with a defect that is open")
	f.BoolVar(&q.Forked, "forked", false, "with more than one newest state")
	jsonFlag(c, &o.json)
	return c
}

func checkVerdicts() []string {
	var out []string
	for _, v := range []checks.Verdict{checks.Pass, checks.Inconclusive, checks.Fail, checks.Void, checks.Missing} {
		out = append(out, v.String())
	}
	return out
}

func runArchiveFind(ctx context.Context, o *archiveFindOptions) error {
	if err := o.valid(); err != nil {
		return err
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		found := []archive.State{}
		n := 0
		for f, err := range a.Find(ctx, o.query) {
			if err != nil {
				return err
			}
			n++
			if o.json {
				found = append(found, f)
				continue
			}
			if _, err := fmt.Fprintln(o.env.Out, foundLine(f)); err != nil {
				return err
			}
		}
		if o.json {
			return printJSON(o.env.Out, found)
		}
		if n == 0 {
			fmt.Fprintln(o.env.Err, "no job is like that")
		}
		return nil
	})
}

// foundLine is one line, its columns in the same places: it is printed before the next is
// known.
func foundLine(f archive.State) string {
	text := fmt.Sprintf("%s  %s  %-20s  %-22s  %s; %s", report.ShortHash(f.Job), f.Last[:10], f.ID, f.Verdict, f.Title, f.Site)
	if f.Newests > 1 {
		text += fmt.Sprintf("; FORK, state %s", report.ShortHash(f.Head))
	}
	if f.Removed { // the verdict is that of the whole record
		text += "; REDUCED"
	}
	return text
}

// valid refuses what can find nothing because it was mistyped.
func (o *archiveFindOptions) valid() error {
	q := o.query
	for _, d := range [][2]string{{"--from", q.From}, {"--to", q.To}} {
		if _, err := time.Parse(time.DateOnly, d[1]); d[1] != "" && err != nil {
			return session.Usagef("%s %s: a day such as 2020-01-31 is wanted", d[0], d[1])
		}
	}
	if q.Kind != "" && checks.KindNamed(q.Kind) == nil {
		return session.NoSuch("--kind", q.Kind, plan.KindNames(), "--kind %s: no such kind of check", q.Kind)
	}
	accepted := chain.Verdicts
	if q.Kind != "" {
		accepted = checkVerdicts()
	}
	if q.Verdict != "" && !slices.Contains(accepted, q.Verdict) {
		words := fmt.Sprintf("--verdict %s: %s are accepted, and of checks with --kind %s", q.Verdict, strings.Join(chain.Verdicts, ", "), strings.Join(checkVerdicts(), ", "))
		return session.Apart(session.Usagef("%s%s", words, session.Meant(q.Verdict, accepted)), session.Parts{Where: "--verdict", Met: q.Verdict, Accepted: accepted})
	}
	return nil
}
