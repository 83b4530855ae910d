package cmd

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/crypto/ssh"

	"handback/checks/plan"
	"handback/cmd/review"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

// keyring is the key that a person signs with while a command runs: found once, and
// unlocked once.
type keyring struct {
	env  *session.Env
	name string // as findKey takes it
	yes  bool   // it signs without being asked once more
	asks bool   // more is asked than this: where no key is named or held, for a file

	found *signKey
	done  func()
}

// release lets go of the key.
func (k *keyring) release() {
	if k.done != nil {
		k.done()
	}
	k.found, k.done = nil, nil
}

// find finds the key.
func (k *keyring) find(ctx context.Context, in *session.Lines, wanted func(ssh.PublicKey) bool) (*signKey, error) {
	if k.found != nil {
		return k.found, nil
	}
	key, done, err := findKey(ctx, k.env, k.name, wanted)
	if err != nil && k.asks && k.name == "" {
		done()
		in.Say("  an acceptance is signed with a key; of those that the plan lists for you, ssh-agent does not hold exactly one\n")
		typed, asked := in.Prompt(ctx, "  key file, or nothing to sign elsewhere: ")
		if asked != nil {
			return nil, asked
		}
		if typed == "" {
			return nil, review.ErrNoKey
		}
		key, done, err = findKey(ctx, k.env, typed, wanted)
	}
	if err != nil {
		done()
		return nil, err
	}
	unlocked := ssh.Signer(nil)
	k.done, k.found = done, &signKey{key.public, func(ctx context.Context) (ssh.Signer, error) {
		if unlocked != nil {
			return unlocked, nil
		}
		var err error
		unlocked, err = key.unlock(ctx)
		return unlocked, err
	}}
	return k.found, nil
}

// accept shows an acceptance to its signer, asks once, and signs it.
func (k *keyring) accept(ctx context.Context, s *session.Session, in *session.Lines, a chain.Acceptance) (*report.Signed, error) {
	p := s.Job.Decided().Person(a.Person)
	trust, err := report.PlanSigners(s.Job.Decided())
	if err != nil {
		return nil, err
	}
	if p == nil || len(p.Keys) == 0 {
		return nil, fmt.Errorf("an acceptance is signed, and the plan lists no key for %s: %s", s.Job.PersonName(a.Person), keysOf(s.Job.Decided()))
	}
	listed := func(key ssh.PublicKey) bool { return trust.AllowIn(chain.AcceptanceNamespace, p.ID, key, a.At) == nil }
	key, err := k.find(ctx, in, listed)
	if errors.Is(err, review.ErrNoKey) || errors.Is(err, io.EOF) {
		return nil, err
	}
	if err != nil {
		return nil, fmt.Errorf("an acceptance is signed: %w", err)
	}
	signed, err := k.sign(ctx, in, a, key, listed, p.Name)
	if err != nil && !errors.Is(err, errNotSigned) {
		k.release() // the next time another may be given
	}
	return signed, err
}

// decides tells whether a key of a person may bring others into a plan.
func decides(q plan.Person) bool {
	return (q.Role == "engineer" || q.Role == "owner") && len(q.Keys) > 0
}

// keysOf says whose key accepts in a job, so that a key may be amended into its plan.
func keysOf(p *plan.Plan) string {
	var names []string
	for _, q := range p.People {
		if decides(q) {
			names = append(names, q.Name)
		}
	}
	if len(names) == 0 {
		return "it lists none of an engineer or an owner, so that nothing can be accepted in this job, nor a key amended into its plan: open another from a plan with one"
	}
	return "amend the plan with one, which is accepted with the key of " + strings.Join(names, " or ")
}

func (k *keyring) sign(ctx context.Context, in *session.Lines, a chain.Acceptance, key *signKey, listed func(ssh.PublicKey) bool, name string) (*report.Signed, error) {
	if err := chain.UsableKey(key.public); err != nil {
		return nil, err
	}
	if !listed(key.public) {
		return nil, fmt.Errorf("key %s is not one that the plan lists for %s: sign with one that it lists", chain.Fingerprint(key.public), name)
	}
	text, err := a.Encode()
	if err != nil {
		return nil, err
	}
	if err := k.confirm(ctx, in, report.AcceptanceWords(a), key); err != nil {
		return nil, err
	}
	signer, err := key.unlock(ctx)
	if err != nil {
		return nil, err
	}
	armoured, err := chain.SignIn(chain.AcceptanceNamespace, text, signer)
	return &report.Signed{Statement: string(text), Signature: armoured}, err
}

// errNotSigned is that of a person who looked and did not want to.
var errNotSigned = errors.New("not signed")

// confirm tells what is about to be signed with which key, and asks once whether to.
func (k *keyring) confirm(ctx context.Context, in *session.Lines, words []string, key *signKey) error {
	for _, line := range words {
		fmt.Fprintf(k.env.Err, "  %s\n", line)
	}
	fmt.Fprintf(k.env.Err, "  key: %s\n", chain.Fingerprint(key.public))
	for !k.yes {
		typed, err := in.Prompt(ctx, "  sign this? [yes/no]: ")
		if errors.Is(err, io.EOF) && !k.asks {
			return errors.New("nothing was answered and nothing signed; --yes signs without being asked")
		}
		if err != nil {
			return err
		}
		switch strings.ToLower(typed) {
		case "yes":
			return nil
		case "no":
			return errNotSigned
		}
		in.Refuse("  %q: yes or no is wanted\n", typed)
	}
	return nil
}
