package cmd

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/crypto/ssh"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/records/archive/tree"
	"handback/records/bag"
	"handback/report"
	"handback/report/seal"
)

type archiveProveOptions struct {
	*archiveAt
	what  string // job, or bag with --check
	since string
	check string
	head  string
	key   string
	out   string
	force bool
	json  bool
}

const archiveProveLong = `Prove something of the archive to somebody who does not have it, in a small file that
can be kept and mailed.

  archive prove JOB            the archive took the bag of this job, as leaf N under a head.
                               JOB is what archive get takes: its newest state, or the
                               head of another.
  archive prove --since HEAD   the archive continues the one of a head that you kept:
                               everything that it held then is there, unchanged, in its place.
  archive prove --check FILE --key log-key.pub [BAG]
                               check such a file: no archive is needed, only the public key
                               of its log. With BAG, that it is the bag that was taken.

A proof is signed anew each time, with a head as the log stands now; with --head FILE it is
made for a head that was signed before, and no key is needed. Leaves and hashes are those
of RFC 6962 and RFC 9162: a program of 60 lines checks them.

A proof shows that a bag was taken and nothing was taken out. It does not show that what
the bag says is true: for that verify the bag.`

func newArchiveProve(at *archiveAt) *cobra.Command {
	o := &archiveProveOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "prove [JOB]", Short: "prove that a bag was taken, that nothing was lost since a head, or check a proof", Args: cobra.MaximumNArgs(1),
		Long: archiveProveLong,
		Example: "  handback archive prove t2-return-1 -o t2-return-1.proof\n  handback archive prove --since head-2026-05.txt\n" +
			"  handback archive prove --check t2-return-1.proof --key log-key.pub t2-return-1.zip",
		ValidArgsFunction: at.completeJobs,
		RunE:              taking(runArchiveProve, o, &o.what),
	}
	c.Flags().StringVar(&o.since, "since", "", "file of a signed head: prove that the archive continues it")
	c.Flags().StringVar(&o.check, "check", "", "file of a proof to check")
	c.Flags().StringVar(&o.head, "head", "", "file of a signed head to prove under, instead of the one as it stands")
	logKeyFlag(c, &o.key)
	outputFlag(c, &o.out, &o.force)
	jsonFlag(c, &o.json)
	return c
}

func runArchiveProve(ctx context.Context, o *archiveProveOptions) error {
	switch {
	case o.check != "" && (o.since != "" || o.head != "" || o.out != ""):
		return session.Usagef("--check reads a proof; --since, --head and -o go with making one")
	case o.check != "":
		return o.checkProof()
	case o.json:
		return session.Usagef("--json goes with --check; a proof is JSON already")
	case (o.what == "") == (o.since == ""):
		return session.Usagef("archive prove takes JOB, --since HEAD or --check FILE; type: %s", o.hint("prove", "--help"))
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		p, err := o.prove(ctx, a)
		if errors.Is(err, tree.ErrNotProved) {
			return notProved{err}
		}
		if err != nil {
			return err
		}
		data, err := p.Encode()
		if err == nil {
			err = print(o.env, data, o.out, o.force)
		}
		if err != nil {
			return err
		}
		if o.since != "" {
			fmt.Fprintf(o.env.Err, "nothing was taken out or changed since %s, as the proof shows\n", o.since)
		}
		file := o.out
		if file == "" || file == "-" {
			file = "FILE"
		}
		fmt.Fprintf(o.env.Err, "whoever has the public key of the log checks it: %s\n", o.env.Hint("archive", "prove", "--check", file, "--key", logKeyFile+".pub"))
		return nil
	})
}

// prove makes the proof that is asked for.
func (o *archiveProveOptions) prove(ctx context.Context, a *archive.Archive) (tree.Proof, error) {
	signed, public, err := o.under(ctx, a)
	if err != nil {
		return tree.Proof{}, err
	}
	_, kept, err := a.Log(ctx)
	if err != nil {
		return tree.Proof{}, err
	}
	if o.since != "" {
		old, err := readHead(o.since)
		if err != nil {
			return tree.Proof{}, err
		}
		return tree.ProveSince(signed, old, public, kept)
	}
	l, err := o.leaf(ctx, a)
	if err != nil {
		return tree.Proof{}, err
	}
	return tree.ProveLeaf(signed, public, int64(l.Number), l.Body, kept)
}

// under is the signed head that is proved under.
func (o *archiveProveOptions) under(ctx context.Context, a *archive.Archive) (string, ssh.PublicKey, error) {
	if o.head == "" {
		return o.signHead(ctx, a, o.key)
	}
	_, public, err := logKey(ctx, a)
	if err != nil {
		return "", nil, err
	}
	signed, err := readHead(o.head)
	return signed, public, err
}

// maxProofFile is more than any proof or head has.
const maxProofFile = 1 << 20

// readHead reads a file of a signed head. Mail may have changed its line ends.
func readHead(file string) (string, error) {
	data, err := readFile(file, maxProofFile)
	if err != nil {
		return "", fmt.Errorf("head %s: %w", file, err)
	}
	return strings.ReplaceAll(string(data), "\r\n", "\n"), nil
}

// leaf finds the leaf of the bag of a state, as it was taken.
func (o *archiveProveOptions) leaf(ctx context.Context, a *archive.Archive) (archive.Leaf, error) {
	b, err := a.State(ctx, o.what)
	if err != nil {
		return archive.Leaf{}, err
	}
	for l, err := range a.Leaves(ctx, b.Number) {
		return l, err
	}
	return archive.Leaf{}, fmt.Errorf("%w: no leaf of the log tells of bag %d", archive.ErrDamaged, b.Number)
}

// notProved ends a command as a record does that is not intact.
type notProved struct{ error }

func (notProved) Is(target error) bool { return target == session.ErrIntegrity }

// checkedProof is what a proof shows.
type checkedProof struct {
	Origin  string     `json:"origin"`
	Size    int64      `json:"size"` // leaves under the head
	Root    string     `json:"root"`
	Number  int64      `json:"number,omitempty"` // of the leaf
	Leaf    *tree.Leaf `json:"leaf,omitempty"`
	Since   int64      `json:"since,omitempty"`   // leaves under the old head
	Bag     string     `json:"bag,omitempty"`     // file that is the one that was taken, or
	Removed bool       `json:"removed,omitempty"` // what is left of it
}

// checkProof checks a proof without the archive.
func (o *archiveProveOptions) checkProof() error {
	if o.key == "" {
		return session.Usagef("say with which key the log is signed: --key %s.pub, as you had it before; a key that comes with a proof proves nothing", logKeyFile)
	}
	public, err := publicKey(o.env, o.key)
	if err != nil {
		return err
	}
	data, err := readFile(o.check, maxProofFile)
	if err != nil {
		return fmt.Errorf("proof %s: %w", o.check, err)
	}
	wrong := func(err error) error { return notProved{fmt.Errorf("%s: %w", o.check, err)} }
	p, err := tree.ParseProof([]byte(strings.ReplaceAll(string(data), "\r\n", "\n")))
	if err != nil {
		return wrong(err)
	}
	s, err := p.Check(public)
	if err != nil {
		return wrong(err)
	}
	is := checkedProof{Origin: s.Head.Origin, Size: s.Head.Size, Root: s.Head.Root.String(), Number: p.Number, Since: s.Old.Size}
	words := fmt.Sprintf("the log %s of %s continues the old one of %d: nothing was taken out or changed since\n", s.Head.Origin, report.Count(int(s.Head.Size), "leaf", "leaves"), s.Old.Size)
	if p.Old == "" {
		is.Leaf = &s.Leaf
		words = fmt.Sprintf("leaf %d of %d of the log %s: the archive took a bag of job %s with %s, head %s, on %s\nbag %s\nlist %s\n", p.Number, s.Head.Size, s.Head.Origin,
			s.Leaf.Job, report.Count(s.Leaf.Entries, "entry", "entries"), s.Leaf.Head, report.Stamp(s.Leaf.Taken), s.Leaf.Bag, s.Leaf.List)
	}
	if o.what != "" {
		if is.Leaf == nil {
			return session.Usagef("%s tells of no bag: it was made with --since", o.check)
		}
		left, err := sameBag(o.what, s.Leaf)
		if err != nil {
			return wrong(err)
		}
		is.Bag, is.Removed = o.what, left
		if left {
			words += o.what + " is what is left of that bag; verify says what was removed\n"
		} else {
			words += o.what + " is that bag\n"
		}
	}
	if o.json {
		return printJSON(o.env.Out, is)
	}
	_, err = fmt.Fprint(o.env.Out, words)
	return err
}

// sameBag tells whether a bag is the one of a leaf, or what is left of it. Its own list leads
// to every file of it, however it is packed.
func sameBag(path string, l tree.Leaf) (left bool, err error) {
	b, err := bag.OpenBag(path)
	if err != nil {
		return false, fmt.Errorf("bag %s: %w", path, plainPathError(err))
	}
	defer b.Close()
	x := seal.ExamineBag(b)
	if len(x.Faults) > 0 {
		return false, fmt.Errorf("bag %s: %s", path, x.Faults[0])
	}
	list, err := seal.ListOf(b)
	if err == nil && list != l.List {
		err = fmt.Errorf("%s is another bag: the SHA-256 of its list of files is %s, the leaf has %s", path, list, l.List)
	}
	return x.Removed != nil, err
}
