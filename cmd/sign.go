package cmd

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/crypto/ssh"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/seal"
)

type signOptions struct {
	env                *session.Env
	job, role, by, key string
	signature          string
	nameStops, yes     bool
}

func newSign(env *session.Env) *cobra.Command {
	o := &signOptions{env: env}
	c := &cobra.Command{
		Use: "sign JOB --as ROLE", Short: "sign a job's record with your own key", Args: exactly("JOB"),
		Long: `Sign the record of a job as it stands at its last entry: as technician, engineer or
owner, with your own ssh key. The statement is shown first and asked once. It says
how many entries it covers, what they came to and every stop that stands; what is
added later is not covered, and every page says so.

The handover workbook and page of that state are made as they are signed: their
SHA-256 stands in the statement, and their bytes are stored with the signature, as
attachments of the job. handover makes the same bytes, to be looked at before.

The role is that of the plan. Who recorded readings does not sign as engineer or
owner unless the plan says tester_may_verify: yes. While a stop stands, engineer and
owner sign only with --name-stops, which says that they know of it; a signature
lifts no stop. An owner signs after an engineer.

The key is a key file (Ed25519, ECDSA or RSA; its passphrase is asked at the
terminal), or one that ssh-agent holds, named by its public key file or its
fingerprint. Without --key the agent's key is taken that the plan lists for you. Signed elsewhere,
statement --unsigned writes what is to be signed to a file F, ssh-keygen -Y sign makes
F.sig of it on any machine, and --signature F.sig takes both files in, as long as
nothing was added to the job meanwhile.

A signature proves that the key was used. Local rules say who may sign what.`,
		Example: `  handback sign t2-return-1 --as engineer --key ~/.ssh/id_ed25519
  handback sign t2-return-1 --signature state.json.sig`,
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runSign, o, &o.job),
	}
	c.Flags().StringVar(&o.role, "as", "", "role to sign in: "+strings.Join(chain.Roles, ", "))
	c.Flags().StringVar(&o.by, "by", "", "who signs, a person of the plan; the only one in the role when not given")
	c.Flags().StringVar(&o.key, "key", "", "key file, or for a key that ssh-agent holds its public key file or SHA256 fingerprint")
	c.Flags().StringVar(&o.signature, "signature", "", "take in a signature F.sig that was made elsewhere over F, which lies beside it")
	c.Flags().BoolVar(&o.nameStops, "name-stops", false, "sign although stops stand; the statement names them")
	c.Flags().BoolVarP(&o.yes, "yes", "y", false, "sign without being asked once more")
	return c
}

func runSign(ctx context.Context, o *signOptions) error {
	var returned *report.Signed
	of := "" // the job that it is of
	switch {
	case o.signature != "" && (o.role != "" || o.by != "" || o.key != "" || o.nameStops):
		return session.Usagef("--signature goes alone: who signs, and as what, stands in what was signed")
	case o.signature != "":
		var err error
		if returned, of, err = o.takeIn(); err != nil {
			return err
		}
	}
	s, err := session.OpenSession(ctx, o.env, o.job, records.Open)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := signedOf(s, o.signature, of, returned); err != nil {
		return err
	}
	x, err := newToSign(ctx, s, o.role, o.by, o.nameStops)
	if err != nil {
		return err
	}
	if err := s.Job.RoomFor(len(x.shown.Workbook) + len(x.shown.Page)); err != nil {
		return err
	}
	docs := x.shown.Drafts(x.person)
	var public ssh.PublicKey
	signed := report.Signed{}
	if returned != nil {
		signed, public, err = o.returned(s, x, *returned, docs)
	} else {
		signed, public, err = o.signHere(ctx, s, x, docs)
	}
	if err != nil {
		return err
	}
	if err := s.Add(ctx, append(docs, chain.Draft{Kind: report.EntrySign, Data: signed})...); err != nil {
		return err
	}
	newest := s.Job.Signatures[len(s.Job.Signatures)-1]
	fmt.Fprintf(o.env.Out, "%s, entry %d: %s\nkey %s\n", s.Job.ID, newest.Seq, s.Job.SignedWords(newest), chain.Fingerprint(public))
	fmt.Fprintln(o.env.Out, newest.KeptWords())
	return nil
}

// toSign is what a person would sign now.
type toSign struct {
	person    *plan.Person
	trust     chain.Signers
	shown     seal.Signable
	statement chain.Statement
}

// listed tells whether the plan lists a key for the person.
func (x toSign) listed(k ssh.PublicKey) bool {
	return x.trust.Allow(x.person.ID, k, x.statement.At) == nil
}

// newToSign makes what a person would sign in a role; who is found as signerOf does.
func newToSign(ctx context.Context, s *session.Session, role, by string, nameStops bool) (toSign, error) {
	var x toSign
	if !slices.Contains(chain.Roles, role) {
		return x, session.Apart(session.Usagef("say in which role you sign: --as %s%s", strings.Join(chain.Roles, "|"), session.Meant(role, chain.Roles)), session.Parts{Where: "--as", Met: role, Accepted: chain.Roles})
	}
	var err error
	if x.person, err = signerOf(s.Job.Plan, role, by); err != nil {
		return x, err
	}
	s.By = x.person.ID
	if err := s.Job.MaySign(x.person, role, nameStops); err != nil {
		return x, err
	}
	if len(s.Job.Differs) > 0 {
		return x, fmt.Errorf("job %s: %w: %s; nobody signs that; every fault is named by: %s", s.ID, session.ErrIntegrity, s.Job.Differs[0], s.Env.Hint("verify", s.ID))
	}
	if forks := s.Job.Forks(); len(forks) > 0 { // no rule of replay: the record of one side does not show it
		f := forks[0]
		if f.Superseded > 0 {
			return x, fmt.Errorf("job %s is not all there is to sign: entry %d of %s joined all of it; sign there: %s", s.ID, f.Superseded, f.ID, s.Env.HintOf("sign", f.ID, "--as", role))
		}
		return x, fmt.Errorf("job %s is not all there is to sign: it %s; decide what counts first: %s", s.ID, s.Job.ForkWords(f), s.Env.HintOf("join", s.ID, f.ID, "--by", "ENGINEER"))
	}
	if x.trust, err = report.PlanSigners(s.Job.Decided()); err != nil {
		return x, err
	}
	readFiles(s, ctx)
	if x.shown, err = seal.NewSignable(s.Job); err != nil {
		return x, err
	}
	st, err := s.Job.NewStatement(x.person, role, s.Env.Now())
	x.statement = x.shown.NamedIn(st)
	return x, err
}

// signHere shows what is signed, asks once and signs it with a key at hand.
func (o *signOptions) signHere(ctx context.Context, s *session.Session, x toSign, docs []chain.Draft) (report.Signed, ssh.PublicKey, error) {
	keys, in := &keyring{env: o.env, name: o.key, yes: o.yes}, session.NewLines(o.env)
	defer keys.release()
	key, err := keys.find(ctx, in, x.listed)
	if err != nil {
		return report.Signed{}, nil, err
	}
	if err := o.mayUse(x, key.public); err != nil {
		return report.Signed{}, nil, err
	}
	if err := keys.confirm(ctx, in, s.Job.StatementWords(x.statement), key); err != nil {
		return report.Signed{}, nil, err
	}
	signed, err := signWith(ctx, s, key, x.statement, docs)
	return signed, key.public, err
}

// takeIn reads what was signed elsewhere, which says of which job it is, and who signs as what.
func (o *signOptions) takeIn() (signed *report.Signed, job string, err error) {
	if signed, err = readSigned(o.signature); err != nil {
		return nil, "", err
	}
	st, err := chain.ParseStatement([]byte(signed.Statement))
	if err != nil {
		return nil, "", fmt.Errorf("%s: %w", o.signature, err)
	}
	o.role, o.by, o.nameStops = st.Role, st.Person, len(st.Stops) > 0
	return signed, st.Job, nil
}

// returned holds what was signed elsewhere against the job as it stands: a statement on
// an earlier state of it is not signed for this one.
func (o *signOptions) returned(s *session.Session, x toSign, signed report.Signed, docs []chain.Draft) (report.Signed, ssh.PublicKey, error) {
	key, err := chain.CheckSignature([]byte(signed.Statement), signed.Signature)
	if err != nil {
		return signed, nil, err
	}
	st, err := chain.ParseStatement([]byte(signed.Statement))
	if err != nil {
		return signed, nil, err
	}
	if n := s.Job.Head().Seq - st.Entries; n > 0 {
		return signed, nil, fmt.Errorf("not signed: %s came after what was signed: write it out again with: %s", report.Count(n, "entry", "entries"),
			o.env.Hint("statement", o.job, "--unsigned", "--as", st.Role, "--output", "FILE"))
	}
	x.statement.At = st.At
	if err := o.mayUse(x, key); err != nil {
		return signed, nil, err
	}
	return signed, key, checkNext(s, docs, signed)
}

// signerOf finds who signs: the named person, or the only one of the plan in the role.
func signerOf(p *plan.Plan, role, by string) (*plan.Person, error) {
	var ids []string
	for _, q := range p.People {
		if q.Role == role {
			ids = append(ids, q.ID)
		}
	}
	if by == "" {
		switch len(ids) {
		case 0:
			return nil, fmt.Errorf("the plan has no %s", role)
		case 1:
			by = ids[0]
		default:
			return nil, session.Apart(session.Usagef("say who you are with --by, one of %s", strings.Join(ids, ", ")), session.Parts{Where: "--by", Accepted: ids})
		}
	}
	id, err := session.Person(p, by)
	if err != nil {
		return nil, err
	}
	return p.Person(id), nil
}

// mayUse says why a person does not sign with a key: the plan lists others for them, or
// keys of others alone. Where it lists none at all, nothing here tells whose it is.
func (o *signOptions) mayUse(x toSign, key ssh.PublicKey) error {
	if err := chain.UsableKey(key); err != nil {
		return err
	}
	wrong := session.Parts{Code: session.CodeWrongKey, Where: "--key", Met: chain.Fingerprint(key)}
	switch who := x.person.Name; {
	case x.listed(key):
		return nil
	case len(x.trust) == 0:
		fmt.Fprintf(o.env.Err, "  the plan lists no key for %s: whoever verifies this needs a list that does, with --allowed-signers\n", who)
		return nil
	case !x.trust.Lists(x.person.ID):
		return session.Apart(fmt.Errorf("the plan lists keys, and none for %s: one comes in by an amendment of the plan", who), wrong)
	default:
		return session.Apart(fmt.Errorf("key %s is not one that the plan lists for %s: sign with one that it lists", chain.Fingerprint(key), who), wrong)
	}
}

// signWith unlocks the key, signs and checks what came of it as verify will. docs are
// the entries that will stand before the signature.
func signWith(ctx context.Context, s *session.Session, key *signKey, st chain.Statement, docs []chain.Draft) (report.Signed, error) {
	text, err := st.Encode()
	if err != nil {
		return report.Signed{}, err
	}
	signer, err := key.unlock(ctx)
	if err != nil {
		return report.Signed{}, err
	}
	armoured, err := chain.SignStatement(text, signer)
	if err != nil {
		return report.Signed{}, err
	}
	signed := report.Signed{Statement: string(text), Signature: armoured}
	return signed, checkNext(s, docs, signed)
}

// checkNext says why a signature behind its documents would not hold.
func checkNext(s *session.Session, docs []chain.Draft, signed report.Signed) error {
	checked, err := s.Job.CheckNext(s.By, docs, signed)
	if err == nil && len(checked.Faults) > 0 {
		err = fmt.Errorf("not signed: %s", strings.Join(checked.Faults, "; "))
	}
	return err
}
