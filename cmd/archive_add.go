package cmd

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/records/bag"
	"handback/report"
)

type archiveAddOptions struct {
	*archiveAt
	json bool
}

func newArchiveAdd(at *archiveAt) *cobra.Command {
	o := &archiveAddOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "add BAG...", Short: "take bags into the archive", Args: atLeast("BAG"),
		Long: `Take bags, or every bag in a folder and the folders below it. A bag is copied, the copy
is verified as verify does and held against the policy of the archive, and only then it
is taken. One that is refused goes into quarantine with the reasons: it is kept, shown
by 'archive show', and never found as evidence. A bag in a folder is kept as the zip
archive that pack would make of it.

A state that is here already is nothing new. A newer state of a job follows the older
one, which stays. Two states of which neither goes on from the other are a fork: both
stay, and both are named. What comes of it hangs on the bags alone, not on their order.

What is said to be taken is on the disk. Stopped or killed, it goes on from there when
it is run again. Exit status 4 when a bag was refused. With --json each bag is one line.`,
		Example: "  handback archive add t2-return-1.zip\n  handback archive add received/",
		RunE:    func(c *cobra.Command, args []string) error { return runArchiveAdd(c.Context(), o, args) },
	}
	jsonFlag(c, &o.json)
	return c
}

// addedBag is what became of a bag.
type addedBag struct {
	File    string   `json:"file"`
	Became  string   `json:"became"` // new, follows, earlier, fork, known or refused
	Job     string   `json:"job"`    // identifier
	ID      string   `json:"id"`
	Head    string   `json:"head"`
	Entries int      `json:"entries"`
	SHA256  string   `json:"sha256"`
	Reasons []string `json:"reasons"` // why it was refused
}

func runArchiveAdd(ctx context.Context, o *archiveAddOptions, args []string) error {
	paths, others, err := bagsUnder(args)
	if err != nil {
		return err
	}
	if others > 0 {
		fmt.Fprintf(o.env.Err, "%s no bag and not looked at\n", report.Count(others, "other file is", "other files are"))
	}
	if len(paths) == 0 {
		return fmt.Errorf("no bag in %s: a bag is a folder that pack made, or a file ending in .zip", strings.Join(args, ", "))
	}
	return o.adding(ctx, func(a *archive.Archive) error { return o.addAll(ctx, a, paths) })
}

// bagsUnder are the bags that arguments name, and how many files beside them there are.
func bagsUnder(args []string) (bags []string, others int, err error) {
	for _, arg := range args {
		info, err := os.Stat(arg)
		switch {
		case err != nil:
			return nil, 0, fmt.Errorf("bag %s: %w", arg, plainPathError(err))
		case !info.IsDir() && !isZip(arg):
			return nil, 0, session.Usagef("%s: a bag is a folder that pack made, or a file ending in .zip; a carrier goes into a record book with take, and is packed there", arg)
		case !info.IsDir() || hasDeclaration(arg):
			bags = append(bags, arg)
			continue
		}
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			switch {
			case err != nil:
				return fmt.Errorf("folder %s: %w", path, plainPathError(err))
			case d.IsDir() && hasDeclaration(path):
				bags = append(bags, path)
				return fs.SkipDir
			case d.IsDir():
			case d.Type().IsRegular() && isZip(path):
				bags = append(bags, path)
			default:
				others++
			}
			return nil
		})
		if err != nil {
			return nil, 0, err
		}
	}
	return bags, others, nil
}

// maxBagFile bounds the file of a bag: what a bag may hold, and its lists.
const maxBagFile = bag.MaxBagBytes + 64<<20

func isZip(path string) bool { return strings.EqualFold(filepath.Ext(path), ".zip") }

// receive copies a bag beside the archive, unless its very bytes are there: those are
// known at once, so that what was begun goes on quickly.
func receive(ctx context.Context, a *archive.Archive, path string) (*archive.Incoming, *archive.Bag, error) {
	name := filepath.Base(path)
	if !isZip(path) || hasDeclaration(path) {
		b, err := bag.OpenBag(path)
		if err != nil {
			return nil, nil, err
		}
		defer b.Close()
		in, err := a.Receive(ctx, name, b.Zip)
		return in, nil, err
	}
	hash := sha256.New()
	if err := copyPlain(hash, path, maxBagFile); err != nil {
		return nil, nil, err
	}
	if known, ok, err := a.ByHash(ctx, hex.EncodeToString(hash.Sum(nil))); err != nil || ok {
		return nil, &known, err
	}
	in, err := a.Receive(ctx, name, func(w io.Writer) error { return copyPlain(w, path, maxBagFile) })
	return in, nil, err
}
