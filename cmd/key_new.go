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
	"golang.org/x/crypto/ssh"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/report/files"
)

type keyOptions struct {
	env      *session.Env
	file     string
	unlocked bool
}

func newKeyNew(env *session.Env) *cobra.Command {
	o := &keyOptions{env: env}
	c := &cobra.Command{
		Use: "new -o FILE", Short: "make an Ed25519 key to sign with", Args: exactly(),
		Long: `Make an Ed25519 key in the form of OpenSSH: FILE, which only you can read, and
FILE.pub, whose line goes into the plan under the person's keys. A passphrase is asked
twice at the terminal and protects the file. Nothing is written over.

Keep a copy where only you can get at it. A key that others could have used proves
nothing any more: take it out of the plans to come.`,
		Example: "  handback key new -o jonas-key",
		RunE:    taking(runKeyNew, o),
	}
	c.Flags().StringVarP(&o.file, "output", "o", "", "file to make; its public half gets .pub behind its name")
	c.Flags().BoolVar(&o.unlocked, "unprotected", false, "ask for no words: whoever gets at the file signs in your name")
	return c
}

func runKeyNew(ctx context.Context, o *keyOptions) error {
	if o.file == "" {
		return session.Usagef("say which file to make: -o FILE")
	}
	if err := mayWrite(o.env, false, output{path: o.file}, output{path: o.file + ".pub"}); err != nil && errors.As(err, new(session.UsageError)) {
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
	public, comment, err := makeKey(o.env, o.file, words)
	if err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "%s %s\n", chain.KeyLine(public), comment)
	fmt.Fprintf(o.env.Err, "made: %s and %s.pub, %s\nthe line goes into the plan, under keys: of its person\n", o.file, o.file, chain.Fingerprint(public))
	return nil
}

// makeKey makes a key file, which words protect, and beside it the file of its public half.
func makeKey(env *session.Env, file string, words []byte) (public ssh.PublicKey, comment string, err error) {
	seed := make([]byte, 32)
	if _, err := io.ReadFull(env.Random, seed); err != nil {
		return nil, "", fmt.Errorf("no random bytes for a key: %w", err)
	}
	comment = keyComment(file)
	data, public, err := chain.NewKeyFile(seed, comment, words)
	clear(seed)
	clear(words)
	if err != nil {
		return nil, "", err
	}
	over := once(env)
	if err := files.Write(file+".pub", []byte(chain.KeyLine(public)+" "+comment+"\n"), over); err != nil {
		return nil, "", err
	}
	over.Private = true
	if err := files.Write(file, data, over); err != nil {
		return nil, "", errors.Join(err, os.Remove(file+".pub"))
	}
	return public, comment, nil
}

// newWords asks twice for the words that are to protect a key.
func newWords(ctx context.Context, env *session.Env) ([]byte, error) {
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
