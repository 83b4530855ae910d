package cmd

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/crypto/ssh"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/records/archive/tree"
	"handback/records/chain"
)

// logKeyFile is the key that signs the heads of the log, in the folder of the archive.
const logKeyFile = "log-key"

type archiveHeadOptions struct {
	*archiveAt
	key   string
	out   string
	force bool
	json  bool
}

const archiveHeadLong = `Print the signed head of the archive's log: how many bags were taken, and one hash over
all of them in their order. Print it, mail it, have it stamped (stamp), give it to
somebody else: whoever keeps it can have it shown years later that the archive still
holds everything that it held then (archive prove --since).

It is a signed note with a checkpoint, open formats of C2SP: three lines (the name of the
log, the number of its leaves, their root hash as in RFC 6962), an empty line, and the
signature. The same archive gives the same head. It is checked with the public key of the
log, which should be kept apart from the archive, and with openssl alone:

  sed '/^$/,$d' head > text
  tail -n 1 head | cut -d' ' -f3 | base64 -d | tail -c 64 > sig
  (printf '\060\052\060\005\006\003\053\145\160\003\041\000'
   cut -d' ' -f2 log-key.pub | base64 -d | tail -c 32) > key.der
  openssl pkeyutl -verify -pubin -keyform DER -inkey key.der -rawin -in text -sigfile sig`

func newArchiveHead(at *archiveAt) *cobra.Command {
	o := &archiveHeadOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "head", Short: "print the signed head of the log, to be kept elsewhere", Args: exactly(),
		Long:    archiveHeadLong,
		Example: "  handback archive head -o head-2026-05.txt",
		RunE:    taking(runArchiveHead, o),
	}
	logKeyFlag(c, &o.key)
	outputFlag(c, &o.out, &o.force)
	jsonFlag(c, &o.json)
	return c
}

// logKeyFlag adds --key to a command that signs a head.
func logKeyFlag(c *cobra.Command, key *string) {
	c.Flags().StringVar(key, "key", "", "key of the log, where it is not in the archive: a key file, or the public key file of a key in ssh-agent")
}

// signedHead is the head of a log.
type signedHead struct {
	Origin      string `json:"origin"`
	Size        int64  `json:"size"`
	Root        string `json:"root"` // base64
	Head        string `json:"head"` // the signed note
	PublicKey   string `json:"public_key"`
	VerifierKey string `json:"verifier_key"` // the same, as programs that follow logs of C2SP take it
}

func runArchiveHead(ctx context.Context, o *archiveHeadOptions) error {
	return o.reading(ctx, func(a *archive.Archive) error {
		signed, public, err := o.signHead(ctx, a, o.key)
		if err != nil {
			return err
		}
		h, err := tree.OpenHead(signed, public)
		if err != nil {
			return err
		}
		if o.json {
			verifier, err := tree.VerifierKey(h.Origin, public)
			if err != nil {
				return err
			}
			return printJSON(o.env.Out, signedHead{h.Origin, h.Size, h.Root.String(), signed, chain.KeyLine(public), verifier})
		}
		if err := print(o.env, []byte(signed), o.out, o.force); err != nil {
			return err
		}
		fmt.Fprintf(o.env.Err, "keep it where nobody who can change the archive gets at it; prove with it later: %s\n", o.hint("prove", "--since", "HEAD"))
		return nil
	})
}

// signHead signs the head of the log as it stands.
func (at *archiveAt) signHead(ctx context.Context, a *archive.Archive, file string) (string, ssh.PublicKey, error) {
	k, public, err := logKey(ctx, a)
	if err != nil {
		return "", nil, err
	}
	size, kept, err := a.Log(ctx)
	if err != nil {
		return "", nil, err
	}
	if size == 0 {
		return "", nil, fmt.Errorf("the archive holds no bag yet, and its log no leaf; begin with: %s", at.hint("add", "BAG"))
	}
	h, err := tree.HeadOf(k.Origin, size, kept)
	if err != nil {
		return "", nil, err
	}
	if file == "" {
		if archive.OnServer(a.Path()) {
			return "", nil, session.Usagef("the key of a log on a server is kept elsewhere: name it with --key FILE")
		}
		file = filepath.Join(a.Path(), logKeyFile)
	}
	key, done, err := findKey(ctx, at.env, file, nil)
	defer done()
	if err != nil {
		return "", nil, err
	}
	if !bytes.Equal(key.public.Marshal(), public.Marshal()) {
		return "", nil, fmt.Errorf("key %s: %s is not the key of the log; that is %s", file, chain.Fingerprint(key.public), chain.Fingerprint(public))
	}
	signer, err := key.unlock(ctx)
	if err != nil {
		return "", nil, err
	}
	signed, err := h.Sign(signer)
	return signed, public, err
}

// logKey is the key that signs the heads of an archive.
func logKey(ctx context.Context, a *archive.Archive) (archive.LogKey, ssh.PublicKey, error) {
	k, err := a.LogKey(ctx)
	if err != nil {
		return archive.LogKey{}, nil, err
	}
	public, _, err := chain.ParseKey(k.Public)
	if err != nil {
		return archive.LogKey{}, nil, fmt.Errorf("%w: key %d of the log: %w", archive.ErrDamaged, k.Number, err)
	}
	return k, public, nil
}

// setLogKey has a key sign the heads of an archive from now on.
func setLogKey(ctx context.Context, a *archive.Archive, public ssh.PublicKey, now time.Time) error {
	origin, err := originOf(public)
	if err != nil {
		return err
	}
	return a.SetLogKey(ctx, origin, chain.KeyLine(public), now)
}

// originOf is the name of the log that a key signs: no two keys sign logs of one name.
func originOf(public ssh.PublicKey) (string, error) {
	sum := sha256.Sum256(public.Marshal())
	origin := "handback-archive/" + hex.EncodeToString(sum[:8])
	_, err := tree.VerifierKey(origin, public)
	return origin, err
}
