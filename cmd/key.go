package cmd

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"handback/records/chain"
	"handback/report"
)

func newKey(env *Env) *cobra.Command {
	c := &cobra.Command{
		Use: "key", Short: "make a key to sign with, and show it for the plan",
		Example: "  handback key new -o jonas-key\n  handback key show jonas-key",
		Args:    cobra.ArbitraryArgs,
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) > 0 {
				return usagef("no command %q%s; type: handback key --help", "key "+args[0], suggestion(c, args[0]))
			}
			return c.Help()
		},
	}
	c.AddCommand(newKeyNew(env), newKeyShow(env))
	return c
}

type keyOptions struct {
	env      *Env
	file     string
	unlocked bool
}

func newKeyNew(env *Env) *cobra.Command {
	o := &keyOptions{env: env}
	c := &cobra.Command{
		Use: "new -o FILE", Short: "make an Ed25519 key to sign with", Args: exactly(),
		Long: `Make an Ed25519 key in the form of OpenSSH: FILE, which only you can read, and
FILE.pub, whose line goes into the plan under the person's keys. A passphrase is asked
twice at the terminal and protects the file. Nothing is written over.

Keep a copy where only you can get at it. A key that others could have used proves
nothing any more: take it out of the plans to come.`,
		Example: "  handback key new -o jonas-key",
		RunE:    func(c *cobra.Command, args []string) error { return runKeyNew(c.Context(), o) },
	}
	c.Flags().StringVarP(&o.file, "output", "o", "", "file to make; its public half gets .pub behind its name")
	c.Flags().BoolVar(&o.unlocked, "unprotected", false, "ask for no words: whoever gets at the file signs in your name")
	return c
}

func runKeyNew(ctx context.Context, o *keyOptions) error {
	if o.file == "" {
		return usagef("say which file to make: -o FILE")
	}
	if err := o.env.mayWrite(false, output{path: o.file}, output{path: o.file + ".pub"}); err != nil && errors.As(err, new(usageError)) {
		return err
	}
	for _, path := range []string{o.file, o.file + ".pub"} {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("key %s: it is there already, and a key is not written over; name another file", path)
		}
	}
	var words []byte
	if !o.unlocked {
		var err error
		if words, err = newWords(ctx, o.env); err != nil {
			return err
		}
	}
	seed := make([]byte, 32)
	if _, err := io.ReadFull(o.env.Random, seed); err != nil {
		return fmt.Errorf("no random bytes for a key: %w", err)
	}
	comment := keyComment(o.file)
	data, public, err := chain.NewKeyFile(seed, comment, words)
	clear(seed)
	clear(words)
	if err != nil {
		return err
	}
	over := o.env.over(output{}, false)
	if err := report.WriteFile(o.file+".pub", []byte(chain.KeyLine(public)+" "+comment+"\n"), over); err != nil {
		return err
	}
	over.Private = true
	if err := report.WriteFile(o.file, data, over); err != nil {
		return errors.Join(err, os.Remove(o.file+".pub"))
	}
	fmt.Fprintf(o.env.Out, "%s %s\n", chain.KeyLine(public), comment)
	fmt.Fprintf(o.env.Err, "made: %s and %s.pub, %s\nthe line goes into the plan, under keys: of its person\n", o.file, o.file, chain.Fingerprint(public))
	return nil
}

// newWords asks twice for the words that are to protect a key.
func newWords(ctx context.Context, env *Env) ([]byte, error) {
	for range tries {
		first, err := secret(ctx, env, "passphrase for the new key: ")
		if errors.Is(err, errNoTerminal) {
			return nil, fmt.Errorf("%w; a key without one is made with --unprotected", err)
		}
		if err != nil {
			return nil, err
		}
		if len(first) == 0 {
			fmt.Fprintln(env.Err, "nothing was typed: a key without a passphrase is made with --unprotected")
			continue
		}
		second, err := secret(ctx, env, "the same once more: ")
		if err != nil {
			return nil, err
		}
		if bytes.Equal(first, second) {
			return first, nil
		}
		fmt.Fprintln(env.Err, "the two differ: type them again")
	}
	return nil, fmt.Errorf("no passphrase was given twice alike in %d tries; no key was made", tries)
}

// keyComment is what the key is called, safe to stand in a plan.
func keyComment(path string) string {
	return strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' || r == '_' {
			return r
		}
		return '-'
	}, filepath.Base(path))
}

func newKeyShow(env *Env) *cobra.Command {
	return &cobra.Command{
		Use: "show FILE", Short: "print the line of a key for the plan", Args: exactly("FILE"),
		Long: `Print the public line of a key, from its key file or its public key file: what goes
into the plan under keys: of its person, and into a list of allowed signers behind
the person's id. No passphrase is needed.`,
		Example: "  handback key show ~/.ssh/id_ed25519.pub",
		RunE:    func(c *cobra.Command, args []string) error { return runKeyShow(env, args[0]) },
	}
}

func runKeyShow(env *Env, path string) error {
	data, public, err := readKeyFile(path)
	if err != nil {
		return err
	}
	if public == nil {
		key, err := fileKey(env, path, data)
		if err != nil {
			return err
		}
		public = key.public
	}
	if err := chain.UsableKey(public); err != nil {
		return fmt.Errorf("key %s: %w", path, err)
	}
	_, err = fmt.Fprintf(env.Out, "%s %s\n", chain.KeyLine(public), keyComment(strings.TrimSuffix(path, ".pub")))
	fmt.Fprintf(env.Err, "%s\n", chain.Fingerprint(public))
	return err
}
