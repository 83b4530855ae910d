package tree

import (
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/crypto/ssh"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"handback/records/chain"
)

// Head is what a log comes to at a size.
type Head struct {
	Origin string
	Size   int64
	Root   tlog.Hash
}

// HeadOf works out the head of the first size leaves of a log.
func HeadOf(origin string, size int64, kept tlog.HashReader) (Head, error) {
	h := Head{Origin: origin, Size: size}
	if err := h.valid(); err != nil {
		return Head{}, err
	}
	var err error
	h.Root, err = tlog.TreeHash(size, kept)
	return h, err
}

// Text is what is signed: three lines. tlog.FormatTree writes another first line.
func (h Head) Text() string {
	return h.Origin + "\n" + strconv.FormatInt(h.Size, 10) + "\n" + h.Root.String() + "\n"
}

func (h Head) valid() error {
	if err := ValidOrigin(h.Origin); err != nil {
		return err
	}
	if h.Size < 1 || h.Size > maxLeaves {
		return fmt.Errorf("head of %d leaves: 1 to %d are accepted; the log of an archive begins with its first bag", h.Size, int64(maxLeaves))
	}
	return nil
}

// ValidOrigin says why a text names no log, nil when it does.
func ValidOrigin(origin string) error {
	bad := func(r rune) bool { return r > unicode.MaxASCII || r <= ' ' || r == '+' || r == 0x7f }
	if origin == "" || len(origin) > 200 || strings.ContainsFunc(origin, bad) {
		return fmt.Errorf("origin %.80q: up to 200 signs of ASCII without blanks and + are accepted", origin)
	}
	return nil
}

// Sign signs the head with an Ed25519 key. The signature is over the text alone, so that openssl checks it.
func (h Head) Sign(key ssh.Signer) (string, error) {
	if err := h.valid(); err != nil {
		return "", err
	}
	verifier, err := verifierOf(h.Origin, key.PublicKey())
	if err != nil {
		return "", err
	}
	signed, err := note.Sign(&note.Note{Text: h.Text()}, noteSigner{verifier, key})
	if err != nil {
		return "", fmt.Errorf("sign with key %s: %w", chain.Fingerprint(key.PublicKey()), err)
	}
	if _, err := OpenHead(string(signed), key.PublicKey()); err != nil { // an agent may answer anything
		return "", fmt.Errorf("sign with key %s: what it gave is no signature: %w", chain.Fingerprint(key.PublicKey()), err)
	}
	return string(signed), nil
}

// noteSigner signs notes with a key of OpenSSH, wherever that is kept.
type noteSigner struct {
	note.Verifier
	key ssh.Signer
}

func (s noteSigner) Sign(msg []byte) ([]byte, error) {
	sig, err := s.key.Sign(nil, msg) // Ed25519 asks for no random bytes
	if err != nil {
		return nil, err
	}
	return sig.Blob, nil
}

// VerifierKey is the public key of a log as programs that follow logs of C2SP take it.
func VerifierKey(origin string, key ssh.PublicKey) (string, error) {
	k, ok := key.(ssh.CryptoPublicKey)
	if !ok || key.Type() != ssh.KeyAlgoED25519 {
		return "", fmt.Errorf("a key of type %s signs no head; an Ed25519 key does ('handback key new -o FILE' makes one)", key.Type())
	}
	return note.NewEd25519VerifierKey(origin, k.CryptoPublicKey().(ed25519.PublicKey))
}

func verifierOf(origin string, key ssh.PublicKey) (note.Verifier, error) {
	line, err := VerifierKey(origin, key)
	if err != nil {
		return nil, err
	}
	return note.NewVerifier(line)
}

// maxHead bounds a signed head with what witnesses may have added.
const maxHead = 64 << 10

// OpenHead reads a signed head and checks that the key signed it. Signatures of others
// may stand beside; nothing is said of them.
//
// Errors: what is no head; another key; a signature that does not fit.
func OpenHead(signed string, key ssh.PublicKey) (Head, error) {
	if len(signed) > maxHead {
		return Head{}, fmt.Errorf("head of %d bytes: at most %d are read", len(signed), maxHead)
	}
	text, _, _ := strings.Cut(signed, "\n\n")
	h, err := parseHead(text + "\n")
	if err != nil {
		return Head{}, err
	}
	verifier, err := verifierOf(h.Origin, key)
	if err != nil {
		return Head{}, err
	}
	n, err := note.Open([]byte(signed), note.VerifierList(verifier))
	var unsigned *note.UnverifiedNoteError
	switch {
	case errors.As(err, &unsigned):
		return Head{}, fmt.Errorf("head: key %s did not sign it", chain.Fingerprint(key))
	case errors.As(err, new(*note.InvalidSignatureError)):
		return Head{}, fmt.Errorf("head: the signature does not fit: key %s did not sign these lines", chain.Fingerprint(key))
	case err != nil:
		return Head{}, fmt.Errorf("head: three lines, an empty one and a signature are wanted: %w", err)
	case n.Text != h.Text():
		return Head{}, errors.New("head: it holds more than origin, size and root")
	}
	if raw, err := base64.StdEncoding.Strict().DecodeString(n.Sigs[0].Base64); err != nil || base64.StdEncoding.EncodeToString(raw) != n.Sigs[0].Base64 {
		return Head{}, errors.New("head: its signature is written in another way than base64 has it")
	}
	return h, nil
}

// parseHead accepts only what Text writes.
func parseHead(text string) (Head, error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 4 {
		return Head{}, errors.New("head: origin, size and root are wanted, a line each, and an empty line behind them")
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil {
		return Head{}, fmt.Errorf("head: size %.30q is no number of leaves", lines[1])
	}
	root, err := tlog.ParseHash(lines[2])
	if err != nil {
		return Head{}, fmt.Errorf("head: root %.60q: a hash in base64 is wanted", lines[2])
	}
	h := Head{lines[0], size, root}
	if err := h.valid(); err != nil {
		return Head{}, err
	}
	if h.Text() != text {
		return Head{}, errors.New("head: its lines are written in another way than a head has them")
	}
	return h, nil
}
