package cmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
	"handback/report/seal"
)

type archiveShowOptions struct {
	*archiveAt
	job        string
	quarantine bool
	json       bool
}

func newArchiveShow(at *archiveAt) *cobra.Command {
	o := &archiveShowOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "show JOB", Short: "what the archive holds of a job", Args: cobra.MaximumNArgs(1),
		Long: `Show a job: its states, each with the bag that holds it, its verdict, what was accepted
under concession, what is open, and bags that call themselves by it and were refused.
JOB is what the job calls itself, its identifier, or the head of a state; of a hash eight
digits are enough. Where several jobs call themselves so, all are shown.

With --quarantine all bags that were refused are listed with the reasons.`,
		Example:           "  handback archive show t2-return-1\n  handback archive show --quarantine",
		ValidArgsFunction: at.completeJobs,
		RunE:              taking(runArchiveShow, o, &o.job),
	}
	c.Flags().BoolVar(&o.quarantine, "quarantine", false, "list the bags that were refused")
	jsonFlag(c, &o.json)
	return c
}

// archivedState is a state of a job in an archive.
type archivedState struct {
	Head     string `json:"head"`
	Entries  int    `json:"entries"`
	Last     string `json:"last"`
	Newest   bool   `json:"newest"` // no other state here goes on from it
	Verdict  string `json:"verdict"`
	Standing string `json:"standing"`
	Signed   string `json:"signed"` // roles that signed the record as it stands
	Taken    string `json:"taken"`
	Name     string `json:"name"` // what the bag was called
	Bytes    int64  `json:"bytes"`
	SHA256   string `json:"sha256"`
	Policy   int    `json:"policy"` // number of the policy it was held against
	Partly   bool   `json:"partly"` // not all in it could be compared

	Removed []removedLine `json:"removed"` // from the bag since it was taken
}

// removedLine is what was removed from a bag at one time.
type removedLine struct {
	Removed string `json:"removed"`
	Person  string `json:"person"`
	Why     string `json:"why"`
	SHA256  string `json:"sha256"` // of the bag from then on
	What    string `json:"what"`
}

func removedLines(ctx context.Context, a *archive.Archive, b archive.Bag) ([]removedLine, error) {
	all, err := a.Removals(ctx, b.Number)
	var out []removedLine
	for _, r := range all {
		said, err := seal.ReadRemoved(r.Body)
		if err != nil {
			return nil, fmt.Errorf("%w: removal %d: %w", archive.ErrDamaged, r.Number, err)
		}
		out = append(out, removedLine{r.Removed, r.Person, r.Why, r.SHA256, said.Acts[len(said.Acts)-1].Words()})
	}
	return out, err
}

// archivedJob is a job in an archive. Concessions, defects and checks are those of its newest states.
type archivedJob struct {
	Job         string               `json:"job"` // identifier
	ID          string               `json:"id"`
	Title       string               `json:"title"`
	Site        string               `json:"site"`
	Work        string               `json:"work"`
	Client      string               `json:"client"`
	Firm        string               `json:"firm"`
	Opened      string               `json:"opened"`
	Forked      bool                 `json:"forked"`
	States      []archivedState      `json:"states"`
	Plants      []archive.Plant      `json:"plants"`
	Signatures  []archive.Signature  `json:"signatures"`
	Concessions []archive.Concession `json:"concessions"`
	Defects     []archive.Defect     `json:"defects"` // those that are open
	Open        []archive.Check      `json:"open"`    // checks
	Quarantine  []refusedBag         `json:"quarantine"`
}

// refusedBag is a bag in quarantine.
type refusedBag struct {
	SHA256  string   `json:"sha256"`
	Bytes   int64    `json:"bytes"`
	Refused string   `json:"refused"`
	Name    string   `json:"name"`
	Policy  int      `json:"policy"`
	Job     string   `json:"job"` // identifier, as far as its record could be followed
	ID      string   `json:"id"`
	Head    string   `json:"head"`
	Reasons []string `json:"reasons"`
	Taken   bool     `json:"taken"` // since then
}

func runArchiveShow(ctx context.Context, o *archiveShowOptions) error {
	if o.quarantine == (o.job != "") {
		return session.Usagef("archive show takes JOB or --quarantine; type: %s", o.hint("show", "--quarantine"))
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		if o.quarantine {
			return o.showQuarantine(ctx, a)
		}
		jobs, err := a.Jobs(ctx, o.job)
		if errors.Is(err, archive.ErrNoJob) {
			return o.onlyRefused(ctx, a, err)
		}
		if err != nil {
			return err
		}
		out := []archivedJob{}
		for _, id := range jobs {
			j, err := jobInArchive(ctx, a, id)
			if err != nil {
				return err
			}
			out = append(out, j)
		}
		if o.json {
			return printJSON(o.env.Out, out)
		}
		for i, j := range out {
			if i > 0 {
				fmt.Fprintln(o.env.Out)
			}
			j.print(o.env.Out)
		}
		return nil
	})
}

// onlyRefused answers for a job of which there is nothing, or nothing but refused bags.
func (o *archiveShowOptions) onlyRefused(ctx context.Context, a *archive.Archive, none error) error {
	bad, err := refusedBags(ctx, a, o.job)
	if err != nil {
		return err
	}
	if len(bad) == 0 {
		return fmt.Errorf("%w; type: %s", none, o.hint("find"))
	}
	return fmt.Errorf("%w, but %s in quarantine; type: %s", none, report.Count(len(bad), "bag is", "bags are"), o.hint("show", "--quarantine"))
}

func (o *archiveShowOptions) showQuarantine(ctx context.Context, a *archive.Archive) error {
	bad, err := refusedBags(ctx, a, "")
	if err != nil {
		return err
	}
	if o.json {
		return printJSON(o.env.Out, bad)
	}
	for _, r := range bad {
		r.print(o.env.Out)
	}
	if len(bad) == 0 {
		fmt.Fprintln(o.env.Err, "no bag was refused")
	}
	return nil
}

func refusedBags(ctx context.Context, a *archive.Archive, name string) ([]refusedBag, error) {
	out := []refusedBag{}
	for r, err := range a.Quarantine(ctx, name) {
		if err != nil {
			return nil, err
		}
		_, since, err := a.ByHash(ctx, r.SHA256)
		if err != nil {
			return nil, err
		}
		out = append(out, refusedBag{r.SHA256, r.Bytes, r.Taken, r.Name, r.Policy, r.Job, r.ID, r.Head, strings.Split(r.Reasons, "\n"), since})
	}
	return out, nil
}

// jobInArchive gathers what an archive holds of a job.
func jobInArchive(ctx context.Context, a *archive.Archive, id string) (archivedJob, error) {
	j, err := a.Job(ctx, id)
	if err != nil {
		return archivedJob{}, err
	}
	last := j.States[len(j.States)-1]
	out := archivedJob{Job: id, ID: last.ID, Title: last.Title, Site: last.Site, Work: last.Work, Client: last.Client, Firm: last.Firm, Opened: last.Opened, Forked: len(j.Newest()) > 1}
	for i, s := range j.States {
		b := j.Bags[i]
		removed, err := removedLines(ctx, a, b)
		if err != nil {
			return archivedJob{}, err
		}
		out.States = append(out.States, archivedState{s.Head, s.Entries, s.Last, s.Newest, s.Verdict, s.Standing, s.Signed, b.Taken, b.Name, b.Bytes, b.SHA256, b.Policy, b.Partly, removed})
		if !s.Newest {
			continue
		}
		rows, err := a.RowsOf(ctx, s.Job, s.Head)
		if err != nil {
			return archivedJob{}, err
		}
		out.Plants, out.Signatures, out.Concessions = append(out.Plants, rows.Plants...), append(out.Signatures, rows.Signatures...), append(out.Concessions, rows.Concessions...)
		for _, d := range rows.Defects {
			if d.Closed == "" {
				out.Defects = append(out.Defects, d)
			}
		}
		for _, c := range rows.Checks {
			if c.Stands == report.StandsOpen || c.Stands == report.StandsStop {
				out.Open = append(out.Open, c)
			}
		}
	}
	out.Quarantine, err = refusedBags(ctx, a, id)
	return out, err
}

func (j archivedJob) print(w io.Writer) {
	fmt.Fprintf(w, "job %s, identifier %s\n%s\n", j.ID, j.Job, j.Title)
	for _, x := range [][2]string{{"site", j.Site}, {"work", j.Work}, {"client", j.Client}, {"tested by", j.Firm}} {
		if x[1] != "" {
			fmt.Fprintf(w, "%s: %s\n", x[0], x[1])
		}
	}
	if j.Forked {
		fmt.Fprintln(w, "FORK: there is more than one newest state, and none goes on from another")
	}
	for _, s := range j.States {
		s.print(w)
	}
	for _, p := range j.Plants {
		fmt.Fprintf(w, "plant %s: %s\n", p.Plant, someWords("", p.Sort, p.Name, p.Maker, named("serial", p.Serial), named("asset", p.Asset)))
	}
	for _, s := range j.Signatures {
		fmt.Fprintf(w, "entry %d: signed by %s as %s, %s\n", s.Entry, s.Name, s.Role, someWords("good", named("NOT GOOD:", s.Doubt)))
	}
	for _, c := range j.Concessions {
		fmt.Fprintf(w, "entry %d: %s accepted %s (%s): %s\n", c.Entry, c.Engineer, c.Check, c.Verdict, someWords("", c.Reason, named("void:", c.Void)))
	}
	for _, d := range j.Defects {
		fmt.Fprintf(w, "open: defect %d: %s\n", d.Number, someWords("", d.What, d.Place, named("owner", d.Owner), named("due", d.Due)))
	}
	for _, c := range j.Open {
		fmt.Fprintf(w, "open: check %s, %s, %s\n", c.Check, c.Kind, c.Verdict)
	}
	for _, r := range j.Quarantine {
		r.print(w)
	}
}

func (s archivedState) print(w io.Writer) {
	newest := ""
	if s.Newest {
		newest = ", newest"
	}
	partly := ""
	if s.Partly {
		partly = ", not all of it could be compared"
	}
	fmt.Fprintf(w, "state %s: %s, last %s%s: %s; signed by %s\n  bag %s, %s, taken %s as %s%s\n", report.ShortHash(s.Head), report.Count(s.Entries, "entry", "entries"), s.Last, newest,
		s.Standing, someWords("nobody", s.Signed), s.SHA256, report.Count(int(s.Bytes), "byte", "bytes"), s.Taken, s.Name, partly)
	for _, r := range s.Removed {
		fmt.Fprintf(w, "  REMOVED %s\n  bag since then %s\n", r.What, r.SHA256)
	}
}

func (r refusedBag) print(w io.Writer) {
	since := ""
	if r.Taken {
		since = "; taken since then"
	}
	fmt.Fprintf(w, "refused %s: %s, %s, SHA-256 %s%s\n", r.Refused, r.Name, report.Count(int(r.Bytes), "byte", "bytes"), r.SHA256, since)
	for _, why := range r.Reasons {
		fmt.Fprintf(w, "  %s\n", why)
	}
}

// named puts a name before words, unless there are none.
func named(name, words string) string {
	if words == "" {
		return ""
	}
	return name + " " + words
}

// someWords joins what is not empty; none stands for nothing.
func someWords(none string, parts ...string) string {
	var some []string
	for _, p := range parts {
		if p != "" {
			some = append(some, p)
		}
	}
	if len(some) == 0 {
		return none
	}
	return strings.Join(some, "; ")
}
