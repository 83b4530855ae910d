package cmd

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report"
)

// archiveAt is the archive that a command works on.
type archiveAt struct {
	env  *session.Env
	path string // of --archive
}

func newArchive(env *session.Env) *cobra.Command {
	at := &archiveAt{env: env}
	c := &cobra.Command{
		Use: "archive", Short: "keep the bags of many jobs and find things in them", Args: cobra.ArbitraryArgs,
		Long: `Keep the bags of many jobs, of many sites, for decades: an archive is a folder with the
bags as they came, in files named by their SHA-256, and an index of what is in them.
The bags are the evidence; the index can be made again from them at any time.

--archive DIR names the archive; HANDBACK_ARCHIVE in the environment where it is not
given. Where one machine is outgrown it is a data base of PostgreSQL with all of it,
postgres://USER@HOST/NAME, in a build that knows it: handback-postgres of a release, or
go build -tags postgres. The bags may lie in a bucket of objects (archive new --bags).
A record book is another thing: these commands need none.`,
		Example: "  handback archive new --archive /srv/handback --policy intake.yaml\n  handback archive add --archive /srv/handback received/",
		RunE:    chosen,
	}
	c.PersistentFlags().StringVar(&at.path, "archive", "", "folder of the archive, or postgres://...; HANDBACK_ARCHIVE when not given")
	c.AddCommand(newArchiveNew(at), newArchivePolicy(at), newArchiveAdd(at), newArchiveFind(at), newArchiveShow(at), newArchiveGet(at), newArchiveTrend(at), newArchiveRecall(at),
		newArchiveDue(at), newArchiveExport(at), newArchiveDoctor(at), newArchiveHead(at), newArchiveProve(at), newArchiveRedact(at), newArchiveKeep(at), newArchiveServe(at))
	return c
}

// place is the folder of the archive.
func (at *archiveAt) place() (string, error) {
	if at.path != "" && archive.Said(at.path) != at.path {
		return "", session.Usagef("--archive %s: leave out the password, which everybody on this machine could read; it is taken from ~/.pgpass, PGPASSWORD or HANDBACK_ARCHIVE", archive.Said(at.path))
	}
	if at.path != "" {
		return at.path, nil
	}
	if at.env.Archive == "" {
		return "", session.Usagef("which archive? name its folder with --archive DIR, or with HANDBACK_ARCHIVE in the environment")
	}
	return at.env.Archive, nil
}

// hint is a command line of the archive that does what it says when it is typed as it stands.
func (at *archiveAt) hint(words ...string) string {
	words = append([]string{"archive"}, words...)
	if at.path != "" {
		words = append(words, "--archive", at.path)
	}
	return at.env.Hint(words...)
}

// reading opens the archive for reading and closes it when do has come back.
func (at *archiveAt) reading(ctx context.Context, do func(*archive.Archive) error) error {
	return at.with(ctx, archive.OpenRead, do)
}

// adding is reading of an archive that is added to.
func (at *archiveAt) adding(ctx context.Context, do func(*archive.Archive) error) error {
	return at.with(ctx, archive.Open, do)
}

func (at *archiveAt) with(ctx context.Context, open func(context.Context, string) (*archive.Archive, error), do func(*archive.Archive) error) error {
	path, err := at.place()
	if err != nil {
		return err
	}
	a, err := open(ctx, path)
	if errors.Is(err, archive.ErrNoArchive) {
		return fmt.Errorf("%w; look at the name, or begin one there with: %s", err, at.hint("new"))
	}
	if err != nil {
		return err
	}
	defer a.Close()
	return do(a)
}

// offered is how many jobs a shell is offered at most (our choice: more nobody reads, and
// whoever types on narrows them).
const offered = 100

// completeJobs offers the jobs of the archive by what they call themselves, the newest
// first; where several are called so, by identifier.
func (at *archiveAt) completeJobs(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
	if len(args) > 0 {
		return nil, cobra.ShellCompDirectiveNoFileComp
	}
	ctx := contextOf(c)
	type offer struct{ job, id, text string }
	var found []offer
	jobs := map[string]string{}                          // a job of each name, "" where there are several
	_ = at.reading(ctx, func(a *archive.Archive) error { // a shell is told nothing
		for f, err := range a.Find(ctx, archive.Query{}) {
			if err != nil {
				return err
			}
			if other, known := jobs[f.ID]; known && other != f.Job {
				jobs[f.ID] = ""
			} else if !known {
				jobs[f.ID] = f.Job
			}
			if strings.HasPrefix(f.ID, typed) || strings.HasPrefix(f.Job, typed) {
				found = append(found, offer{f.Job, f.ID, f.Title + "; " + f.Site})
			}
		}
		return nil
	})
	var out []string
	for _, s := range found {
		name, text := s.id, s.text
		if jobs[s.id] == "" || !strings.HasPrefix(s.id, typed) {
			name, text = report.ShortHash(s.job), s.id+", "+text
		}
		line := name + "\t" + strings.Join(strings.Fields(text), " ")
		if len(out) < offered && strings.HasPrefix(name, typed) && !slices.Contains(out, line) {
			out = append(out, line)
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}
