package cmd

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/records/bag"
	"handback/report"
	"handback/report/admit"
	"handback/report/seal"
)

type archiveDoctorOptions struct {
	*archiveAt
	json, hashes, rebuild bool
	policies              map[int]admit.Policy
}

func newArchiveDoctor(at *archiveAt) *cobra.Command {
	o := &archiveDoctorOptions{archiveAt: at, policies: map[int]admit.Policy{}}
	c := &cobra.Command{
		Use: "doctor", Short: "examine the whole archive", Args: exactly(),
		Long: `Examine the archive: its data base, the SHA-256 of every bag, those in quarantine too;
and verify every bag as it was when it was taken, make its rows again, and compare them
with those that find reads. Exit status 4 when anything differs.

--hashes leaves out what is in the bags, and takes a moment. The bags are the evidence
and the rows an index: --rebuild puts rows made from the bags in the place of those
that differ.`,
		Example: "  handback archive doctor\n  handback archive doctor --hashes",
		RunE:    taking(runArchiveDoctor, o),
	}
	jsonFlag(c, &o.json)
	c.Flags().BoolVar(&o.hashes, "hashes", false, "only hash the bags; do not verify what is in them")
	c.Flags().BoolVar(&o.rebuild, "rebuild", false, "make rows that differ again from their bags")
	return c
}

// archiveHealth is what examining an archive showed.
type archiveHealth struct {
	Archive  string   `json:"archive"`
	Bucket   string   `json:"bucket,omitempty"` // that the bags lie in
	Bags     int      `json:"bags"`
	Refused  int      `json:"refused"` // bags in quarantine
	Verified bool     `json:"verified"`
	Rebuilt  int      `json:"rebuilt"` // states whose rows were made again
	Faults   []string `json:"faults"`
	Warnings []string `json:"warnings"`
}

func runArchiveDoctor(ctx context.Context, o *archiveDoctorOptions) error {
	forLong()
	if o.hashes && o.rebuild {
		return session.Usagef("--rebuild looks into the bags: leave out --hashes")
	}
	open := o.reading
	if o.rebuild {
		open = o.adding
	}
	return open(ctx, func(a *archive.Archive) error {
		h := archiveHealth{Archive: a.Path(), Bucket: a.Bucket(), Verified: !o.hashes}
		var err error
		if h.Faults, h.Warnings, err = a.Check(ctx); err != nil {
			return err
		}
		if err := o.examineBags(ctx, a, &h); err != nil {
			return err
		}
		for r, err := range a.Quarantine(ctx, "") {
			if err != nil {
				return err
			}
			h.Refused++
			if err := h.hash(ctx, a, r); err != nil {
				return err
			}
		}
		return o.answer(h)
	})
}

// hash adds what is wrong with a bag in quarantine.
func (h *archiveHealth) hash(ctx context.Context, a *archive.Archive, r archive.Refused) error {
	path, err := a.RefusedFile(ctx, r)
	if errors.Is(err, archive.ErrDamaged) {
		h.Faults = append(h.Faults, err.Error())
		return nil
	}
	if err != nil {
		return err
	}
	defer a.Release(path)
	if why := misnamed(path, r.SHA256); why != "" {
		h.Faults = append(h.Faults, why)
	}
	return nil
}

func misnamed(path, want string) string {
	switch got, err := archive.Rehash(path); {
	case err != nil:
		return fmt.Sprintf("%s: %v", path, plainPathError(err))
	case got != want:
		return fmt.Sprintf("%s was changed: its SHA-256 is %s", path, got)
	}
	return ""
}

// examined is what one bag showed.
type examined struct {
	bag    archive.Bag
	faults []string
	renew  *archive.Rows // rows that differ from those in the archive, made again
	err    error
}

// examineBags looks at every bag, a few at once.
func (o *archiveDoctorOptions) examineBags(ctx context.Context, a *archive.Archive, h *archiveHealth) error {
	var kept []archive.Bag // without their hashes: of many bags these are what is large
	for b, err := range a.Bags(ctx, 1) {
		if err != nil {
			return err
		}
		b.Hashes = nil
		if err := o.policyOf(ctx, a, b.Policy); err != nil {
			return err
		}
		kept = append(kept, b)
	}
	begun, told := o.env.Now(), o.env.Now()
	for x := range inOrder(ctx, kept, func(b archive.Bag) examined { return o.examine(ctx, a, b) }) {
		if x.err != nil {
			return x.err
		}
		if h.Bags++; x.renew != nil && o.rebuild && len(x.faults) == 1 {
			if err := a.Renew(ctx, x.bag, x.renew); err != nil {
				return err
			}
			h.Rebuilt++
			x.faults = nil
		}
		h.Faults = append(h.Faults, x.faults...)
		told = tellProgress(o.env, begun, told, h.Bags, len(kept))
	}
	return ctx.Err()
}

func (o *archiveDoctorOptions) policyOf(ctx context.Context, a *archive.Archive, number int) error {
	if _, known := o.policies[number]; known {
		return nil
	}
	parts, err := a.PolicyOf(ctx, number)
	if err == nil {
		o.policies[number], err = admit.NewPolicy(parts, number)
	}
	if err != nil {
		return fmt.Errorf("policy %d of the archive: %w", number, err)
	}
	return nil
}

// examineReduced looks at a bag from which something was removed. Its rows cannot be made
// again from it.
func examineReduced(path, of string) (faults []string, err error) {
	b, err := bag.OpenBag(path)
	if err != nil {
		return []string{of + err.Error()}, nil
	}
	defer b.Close()
	x := seal.ExamineBag(b)
	for _, f := range x.Faults {
		faults = append(faults, of+f)
	}
	if x.Removed == nil {
		faults = append(faults, of+"nothing was removed from its bag, though the archive says so")
	}
	return faults, nil
}

// examine looks at one bag.
func (o *archiveDoctorOptions) examine(ctx context.Context, a *archive.Archive, b archive.Bag) examined {
	x := examined{bag: b}
	of := fmt.Sprintf("job %s, state %s: ", report.ShortHash(b.Job), report.ShortHash(b.Head))
	path, hash, err := a.File(ctx, b)
	if errors.Is(err, archive.ErrDamaged) {
		x.faults = []string{of + err.Error()}
		return x
	}
	if err != nil {
		x.err = err
		return x
	}
	defer a.Release(path)
	if why := misnamed(path, hash); why != "" {
		x.faults = []string{of + why}
		return x
	}
	if o.hashes {
		return x
	}
	if hash != b.SHA256 {
		x.faults, x.err = examineReduced(path, of)
		return x
	}
	taken, err := time.Parse(time.RFC3339, b.Taken)
	if err != nil {
		x.err = err
		return x
	}
	t, err := admit.Examine(path, o.policies[b.Policy], taken)
	if err != nil {
		x.err = err
		return x
	}
	for _, why := range t.Reasons {
		x.faults = append(x.faults, of+"it would be refused now: "+why)
	}
	if t.Rows == nil {
		return x
	}
	is, err := a.RowsOf(ctx, b.Job, b.Head)
	want := t.Rows
	if err == nil {
		if err = a.Settle(ctx, b, &t.Rows.States[0]); !t.Rows.States[0].Newest {
			want = &archive.Rows{States: t.Rows.States}
		}
	}
	if err != nil {
		x.err = err
		return x
	}
	if tables := is.Differ(want); len(tables) > 0 {
		x.renew = t.Rows
		x.faults = append(x.faults, fmt.Sprintf("%sits rows differ from its bag in %s; make them again with: %s", of, strings.Join(tables, ", "), o.hint("doctor", "--rebuild")))
	}
	return x
}

func (o *archiveDoctorOptions) answer(h archiveHealth) error {
	if o.json {
		if err := printJSON(o.env.Out, h); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(o.env.Out, "%s: %s, %d in quarantine\n", h.Archive, report.Count(h.Bags, "bag", "bags"), h.Refused)
		if h.Bucket != "" {
			fmt.Fprintf(o.env.Out, "bags in %s\n", h.Bucket)
		}
		for _, f := range h.Faults {
			fmt.Fprintf(o.env.Out, "FAULT: %s\n", f)
		}
		for _, f := range h.Warnings {
			fmt.Fprintf(o.env.Out, "warning: %s\n", f)
		}
		if h.Rebuilt > 0 {
			fmt.Fprintf(o.env.Out, "rows of %s made again\n", report.Count(h.Rebuilt, "state", "states"))
		}
		switch {
		case len(h.Faults) > 0:
		case h.Verified:
			fmt.Fprintln(o.env.Out, "archive intact")
		default:
			fmt.Fprintln(o.env.Out, "every bag has the bytes that were taken; what is in them was not verified")
		}
	}
	if len(h.Faults) > 0 {
		return fmt.Errorf("archive %s: %w: %s", h.Archive, session.ErrIntegrity, report.Count(len(h.Faults), "fault", "faults"))
	}
	return nil
}
