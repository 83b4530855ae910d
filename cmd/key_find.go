package cmd

import (
	"bytes"
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime"
	"strings"

	"golang.org/x/crypto/ssh"
	"golang.org/x/crypto/ssh/agent"
	"golang.org/x/term"

	"handback/cmd/session"
	"handback/records/chain"
)

// signKey is a key that signs once it is unlocked.
type signKey struct {
	public ssh.PublicKey
	unlock func(context.Context) (ssh.Signer, error)
}

// maxKeyFile bounds a key file in bytes; the longest honest ones are a few KiB.
const maxKeyFile = 64 << 10

// errNoTerminal says that words nobody may see cannot be asked here.
var errNoTerminal = errors.New("a passphrase is typed at a terminal, and the input is none")

// tries is how often the words that protect a key are asked.
const tries = 3

// findKey finds the key that name means: a key file; or, held by ssh-agent, the key of
// a public key file or of a fingerprint; or, without a name, the one key of the agent
// that wanted accepts. done lets go of the agent.
func findKey(ctx context.Context, env *session.Env, name string, wanted func(ssh.PublicKey) bool) (key *signKey, done func(), err error) {
	done = func() {}
	if name != "" && !strings.HasPrefix(name, "SHA256:") {
		data, public, err := readKeyFile(name)
		if err != nil {
			return nil, done, err
		}
		if public == nil {
			key, err = fileKey(env, name, data)
			return key, done, err
		}
		wanted = func(k ssh.PublicKey) bool { return bytes.Equal(k.Marshal(), public.Marshal()) }
	} else if name != "" {
		wanted = func(k ssh.PublicKey) bool { return chain.Fingerprint(k) == name }
	}
	return agentKey(ctx, env, name, wanted)
}

// readKeyFile reads a file that holds a key; public is nil when it is not a public one.
func readKeyFile(path string) (data []byte, public ssh.PublicKey, err error) {
	if data, err = readPlain(path, maxKeyFile); err != nil {
		return nil, nil, fmt.Errorf("key %s: %w", path, err)
	}
	if public, _, err = chain.ParseKey(strings.TrimSpace(string(data))); err == nil {
		return data, public, nil
	}
	info, err := os.Stat(path)
	if err != nil {
		return nil, nil, fmt.Errorf("key %s: %w", path, plainPathError(err))
	}
	if loose := info.Mode().Perm() & 0o077; loose != 0 && runtime.GOOS != "windows" {
		return nil, nil, fmt.Errorf("key %s: others on this machine may use it (mode %04o), so it proves nobody; type: chmod 600 %s", path, info.Mode().Perm(), path)
	}
	return data, nil, nil
}

// fileKey is the key of a key file. Its public half is known before it is unlocked.
func fileKey(env *session.Env, path string, data []byte) (*signKey, error) {
	signer, err := ssh.ParsePrivateKey(data)
	var locked *ssh.PassphraseMissingError
	switch {
	case errors.As(err, &locked) && locked.PublicKey == nil:
		return nil, fmt.Errorf("key %s: of an old form that does not tell its public key; type: ssh-keygen -p -f %s", path, path)
	case errors.As(err, &locked):
		return &signKey{locked.PublicKey, func(ctx context.Context) (ssh.Signer, error) {
			return unlockFile(ctx, env, path, data, locked.PublicKey)
		}}, nil
	case err != nil:
		return nil, fmt.Errorf("key %s: it cannot be read as a key of OpenSSH; 'handback key new -o FILE' makes one", path)
	}
	return &signKey{signer.PublicKey(), func(context.Context) (ssh.Signer, error) { return signer, nil }}, nil
}

func unlockFile(ctx context.Context, env *session.Env, path string, data []byte, public ssh.PublicKey) (ssh.Signer, error) {
	for range tries {
		words, err := secret(ctx, env, fmt.Sprintf("passphrase of %s: ", path))
		if errors.Is(err, errNoTerminal) {
			return nil, fmt.Errorf("key %s: %w; or load the key into ssh-agent first and name it by its public key file", path, err)
		}
		if err != nil {
			return nil, err
		}
		signer, err := ssh.ParsePrivateKeyWithPassphrase(data, words)
		clear(words)
		switch {
		case errors.Is(err, x509.IncorrectPasswordError):
			fmt.Fprintln(env.Err, "that is not its passphrase")
			continue
		case err != nil:
			return nil, fmt.Errorf("key %s: it cannot be read: %w", path, err)
		case !bytes.Equal(signer.PublicKey().Marshal(), public.Marshal()):
			return nil, fmt.Errorf("key %s: its two halves do not belong together", path)
		}
		return signer, nil
	}
	return nil, fmt.Errorf("key %s: the passphrase was not given in %d tries; nothing was signed", path, tries)
}

// secret asks for words at a terminal without showing them. An interrupt puts the
// terminal right again.
func secret(ctx context.Context, env *session.Env, prompt string) ([]byte, error) {
	f, ok := env.In.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil, errNoTerminal
	}
	if ctx.Err() != nil {
		return nil, session.ErrInterrupted
	}
	before, err := term.GetState(int(f.Fd()))
	if err == nil {
		err = hideTyped(f) // ReadPassword hides it too, but later than the prompt is seen
	}
	if err != nil {
		return nil, fmt.Errorf("the terminal does not hide what is typed: %w", err)
	}
	type typed struct {
		words []byte
		err   error
	}
	got := make(chan typed, 1)
	fmt.Fprint(env.Err, prompt)
	go func() {
		words, err := term.ReadPassword(int(f.Fd()))
		got <- typed{words, err}
	}()
	var g typed
	select {
	case <-ctx.Done():
		g.err = session.ErrInterrupted
	case g = <-got:
	}
	err = term.Restore(int(f.Fd()), before)
	fmt.Fprintln(env.Err)
	if errors.Is(g.err, io.EOF) {
		g.err = errors.New("no passphrase was typed")
	}
	return g.words, errors.Join(g.err, err)
}

// agentKey finds the one key of ssh-agent that is wanted.
func agentKey(ctx context.Context, env *session.Env, name string, wanted func(ssh.PublicKey) bool) (*signKey, func(), error) {
	nothing := func() {}
	none := session.Parts{Code: session.CodeNoKey, Where: "--key", Met: name}
	if env.Agent == "" {
		return nil, nothing, session.Apart(errors.New("no ssh-agent is to be asked (SSH_AUTH_SOCK is not set): give a key file with --key FILE; 'handback key new -o FILE' makes one"), none)
	}
	conn, err := dialAgent(ctx, env.Agent)
	if err != nil {
		return nil, nothing, session.Apart(fmt.Errorf("ssh-agent does not answer at %s (SSH_AUTH_SOCK): give a key file with --key FILE", env.Agent), none)
	}
	stop := context.AfterFunc(ctx, func() { conn.Close() }) // an agent may wait for its owner
	done := func() { stop(); conn.Close() }
	signers, err := agent.NewClient(conn).Signers()
	if err != nil {
		done()
		return nil, nothing, fmt.Errorf("ssh-agent at %s: %w", env.Agent, err)
	}
	var found []ssh.Signer
	for _, s := range signers {
		if wanted(s.PublicKey()) {
			found = append(found, s)
		}
	}
	if len(found) != 1 {
		done()
		if name == "" {
			return nil, nothing, session.Apart(session.Usagef("say with which key: --key FILE; ssh-agent holds %d keys that the plan lists for this person", len(found)), none)
		}
		return nil, nothing, session.Apart(fmt.Errorf("ssh-agent does not hold key %s: load it with ssh-add, or give its key file with --key", name), none)
	}
	return &signKey{plainPublic(found[0].PublicKey()), func(context.Context) (ssh.Signer, error) { return found[0], nil }}, done, nil
}

// plainPublic is a key as this program reads it, not as the agent's client wraps it.
func plainPublic(key ssh.PublicKey) ssh.PublicKey {
	if plain, err := ssh.ParsePublicKey(key.Marshal()); err == nil {
		return plain
	}
	return key
}
