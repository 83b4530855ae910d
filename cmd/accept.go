package cmd

import (
	"cmp"
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
	"handback/report/files"
)

type acceptOptions struct {
	env                 *session.Env
	job, check, by, why string
	key, out, signature string
	unsigned, yes       bool

	caller, telephone, at, words, listened string

	of string // the job that what was signed elsewhere is of
}

func newAccept(env *session.Env) *cobra.Command {
	o := &acceptOptions{env: env}
	c := &cobra.Command{
		Use: "accept JOB CHECK --by WHO --why WHY", Short: "accept a finding that did not pass, or a device found otherwise", Args: atLeast("JOB"),
		Long: `Record that an engineer of the plan accepts a finding that did not pass, with the
reason. The finding stays as it is; the hold points that waited for it are free of it. A stop
is not lifted by a concession: it stays on the first page of the handover, and the
way past it is to take the check again. A check that was skipped is accepted as not
done, by an engineer who did not skip it; a proof of dead never is. In place of CHECK
a device may be named that was found otherwise than recorded: until an engineer accepts
that, or records it, the job is not ready.

The engineer signs what is accepted, with the key that the plan lists: --key as with sign,
or the one that ssh-agent holds. Signed elsewhere, --unsigned -o F writes what is to be
signed, ssh-keygen -Y sign makes F.sig of it on any machine, and --signature F.sig takes
both files in. Where somebody goes on with the job elsewhere meanwhile, they take what you
pack, and join asks there for what you signed, as long as the same finding counts.

At night, an engineer may accept by telephone what a hold point waits for whose plan says
telephone: yes. Who calls records the number, the time, the words as they were read back to
the engineer, and the second person who listened. The call comes after what is accepted
was recorded, by at most 12 hours. It is good for such hold points alone,
is shown as by telephone, and the job is not ready until the signature follows.

Only where the plan says unsigned_acceptance: yes is a key not needed, and
what was accepted without one is shown as unsigned.`,
		Example: `  handback accept t2-return-1 unbalance --by jonas --why "single-phase heater load; removed before full load"
  handback accept t2-return-1 inc2 --by jonas --key ~/.ssh/id_ed25519 --why "tripped by the test set; closed again under section 8.1"
  handback accept t2-return-1 unbalance --by jonas --why "heater load" --unsigned -o accept.json
  handback accept t2-return-1 --signature accept.json.sig
  handback accept t2-return-1 unbalance --by jonas --why "heater load" --telephone "+44 1632 960113" --at 02:40 \
    --caller mira --words "unbalance 2.4 percent accepted until the heater is off" --listened ines`,
		ValidArgsFunction: completeJobs(env, func(s *session.Session) []string { return append(session.CheckIDs(s), session.DeviceIDs(s)...) }),
		RunE: func(c *cobra.Command, args []string) error {
			o.job = args[0]
			if len(args) > 2 || (len(args) == 2) == (o.signature != "") {
				return session.Usagef("give JOB and CHECK, or JOB and --signature F.sig")
			}
			if len(args) == 2 {
				o.check = args[1]
			}
			return runAccept(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who accepts it, an engineer of the plan")
	c.Flags().StringVar(&o.why, "why", "", "why it is accepted")
	c.Flags().StringVar(&o.key, "key", "", "key file, or for a key that ssh-agent holds its public key file or SHA256 fingerprint")
	c.Flags().BoolVarP(&o.yes, "yes", "y", false, "sign without being asked once more")
	c.Flags().BoolVar(&o.unsigned, "unsigned", false, "write what is to be signed to the file -o, and record nothing")
	c.Flags().StringVarP(&o.out, "output", "o", "", "file to make with --unsigned")
	c.Flags().StringVar(&o.telephone, "telephone", "", "number on which the engineer accepted it by telephone")
	c.Flags().StringVar(&o.at, "at", "now", "with --telephone: when, such as 02:40")
	c.Flags().StringVar(&o.words, "words", "", "with --telephone: what was read back to the engineer, who agreed")
	c.Flags().StringVar(&o.listened, "listened", "", "with --telephone: the second person who listened")
	c.Flags().StringVar(&o.caller, "caller", "", "with --telephone: who called, a person of the plan")
	c.Flags().StringVar(&o.signature, "signature", "", "take in a signature F.sig that was made elsewhere over F, which lies beside it")
	return c
}

// asked holds the options against one another, and reads what was signed elsewhere.
func (o *acceptOptions) asked() (returned *report.Signed, err error) {
	spoken := o.words != "" || o.listened != "" || o.caller != "" || o.at != "now"
	switch {
	case o.telephone == "" && spoken, o.telephone != "" && (o.words == "" || o.listened == "" || o.caller == "" || o.unsigned || o.key != "" || o.signature != ""):
		return nil, session.Usagef("--telephone NUMBER, --caller WHO, --words WORDS and --listened WHO go together, without a key or a file; --at says when")
	case o.unsigned != (o.out != ""):
		return nil, session.Usagef("--unsigned and -o FILE go together")
	case o.signature != "" && (o.unsigned || o.key != "" || o.by != "" || o.why != ""):
		return nil, session.Usagef("--signature goes alone: who accepts, what and why stands in what was signed")
	case o.signature != "":
		signed, a, err := readAcceptance(o.signature)
		if err != nil {
			return nil, err
		}
		o.of, o.check, o.by, o.why = a.Job, a.Of, a.Person, a.Reason
		return signed, nil
	case strings.TrimSpace(o.by) == "" || strings.TrimSpace(o.why) == "":
		return nil, session.Usagef("a concession needs a name and a reason: --by WHO --why WHY")
	}
	return nil, nil
}

func runAccept(ctx context.Context, o *acceptOptions) error {
	returned, err := o.asked()
	if err != nil {
		return err
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, cmp.Or(o.caller, o.by))
	if err != nil {
		return err
	}
	defer s.Close()
	if err := signedOf(s, o.signature, o.of, returned); err != nil {
		return err
	}
	if o.by, err = session.Person(s.Job.Plan, o.by); err != nil {
		return err
	}
	a, data, err := s.Acceptance(o.check, o.by, o.why)
	if err != nil {
		return err
	}
	a.At = o.env.Now().Truncate(time.Second)
	if o.unsigned {
		return writeAcceptance(o.env, o.out, a, "accept", o.job)
	}
	if o.telephone != "" {
		if data.Telephone, err = o.call(s, a); err != nil {
			return err
		}
	} else if data.Signed = returned; returned == nil && (o.key != "" || s.Job.SignsAcceptances()) {
		keys := &keyring{env: o.env, name: o.key, yes: o.yes}
		defer keys.release()
		if data.Signed, err = keys.accept(ctx, s, session.NewLines(o.env), a); err != nil {
			return err
		}
	}
	proof := s.Job.Prove(data.Signed, a)
	if data.Signed != nil && proof.Doubt() != "" {
		return fmt.Errorf("not accepted: %s", proof.Doubt())
	}
	if err := s.Again(a, data); err != nil {
		return err
	}
	if err := s.Add(ctx, session.AcceptanceDraft(a, data)); err != nil {
		return err
	}
	o.tell(s, a, data)
	return nil
}

// tell says what was accepted, and by whose key.
func (o *acceptOptions) tell(s *session.Session, a chain.Acceptance, data report.Conceded) {
	fmt.Fprintln(o.env.Out, s.AcceptedWords(a, data))
	fmt.Fprintln(o.env.Out, s.Job.Proof(s.Job.Head().Seq).Words())
	if data.Telephone != nil {
		fmt.Fprintf(o.env.Err, "the job is not ready until the signature follows, with: %s\n", o.env.Hint("accept", o.job, a.Of, "--by", o.by, "--why", o.why))
	}
}

// call is how the engineer was reached by telephone.
func (o *acceptOptions) call(s *session.Session, a chain.Acceptance) (*report.Telephoned, error) {
	called, err := s.Moment(o.at)
	if err != nil {
		return nil, fmt.Errorf("--at: %w", err)
	}
	t := report.Telephoned{Number: strings.TrimSpace(o.telephone), Called: called.Format(time.RFC3339), Words: o.words, Listened: o.listened}
	return &t, s.Job.MayTelephone(a, s.By, t, called, o.env.Now())
}

// readAcceptance reads an acceptance that was signed elsewhere.
func readAcceptance(name string) (*report.Signed, chain.Acceptance, error) {
	signed, err := readSigned(name)
	if err != nil {
		return nil, chain.Acceptance{}, err
	}
	a, err := chain.ParseAcceptance([]byte(signed.Statement))
	if err != nil {
		return nil, a, fmt.Errorf("%s: %w", name, err)
	}
	return signed, a, nil
}

// signedOf holds what was signed elsewhere, if anything was, against the job at hand: by the
// id that the job was opened under, for in this book it may have another, and by what the job
// keeps already.
func signedOf(s *session.Session, name, job string, signed *report.Signed) error {
	if signed == nil {
		return nil
	}
	if job != s.Job.ID {
		return fmt.Errorf("%s: it is of job %s, not of %s", name, job, s.Job.ID)
	}
	if seq := keeps(s, signed.Signature); seq > 0 {
		return fmt.Errorf("%s: entry %d keeps it already: nothing was recorded", name, seq)
	}
	return nil
}

// keeps is the entry that has a signature already, 0 when none has.
func keeps(s *session.Session, signature string) int {
	for _, e := range s.Job.Entries {
		var is *report.Signed
		switch e.Kind {
		case report.EntrySign:
			d, _ := report.Decode[report.Signed](e)
			is = &d
		case report.EntryConcede:
			d, _ := report.Decode[report.Conceded](e)
			is = d.Signed
		case report.EntryAccept:
			d, _ := report.Decode[report.AcceptedPlan](e)
			is = d.Signed
		}
		if is != nil && is.Signature == signature {
			return e.Seq
		}
	}
	return 0
}

// readSigned reads a signature F.sig, and F beside it, over which it was made.
func readSigned(name string) (*report.Signed, error) {
	over, ok := strings.CutSuffix(name, ".sig")
	if !ok {
		return nil, session.Usagef("%s: a signature F.sig is wanted as ssh-keygen -Y sign writes it, with F beside it", name)
	}
	text, err := readFile(over, maxInput)
	if err != nil {
		return nil, fmt.Errorf("%s, which was signed: %w", over, err)
	}
	armoured, err := readFile(name, maxInput)
	if err != nil {
		return nil, fmt.Errorf("signature %s: %w", name, err)
	}
	return &report.Signed{Statement: string(text), Signature: string(armoured)}, nil
}

// writeAcceptance writes an acceptance out to be signed elsewhere, and taken in by the command back.
func writeAcceptance(env *session.Env, out string, a chain.Acceptance, back ...string) error {
	text, err := a.Encode()
	if err != nil {
		return err
	}
	return writeUnsigned(env, out, text, report.AcceptanceWords(a), chain.AcceptanceNamespace, back...)
}

// writeUnsigned tells what is to be signed, writes its bytes into a file, and says how it is
// signed elsewhere and which command takes it in.
func writeUnsigned(env *session.Env, out string, text []byte, words []string, namespace string, back ...string) error {
	if out == "-" {
		return session.Usagef("-: its signature is taken in by the name of the file; name one")
	}
	for _, line := range words {
		fmt.Fprintf(env.Err, "  %s\n", line)
	}
	if err := files.Write(out, text, once(env)); err != nil {
		return err
	}
	file := session.ShellWord(out)
	fmt.Fprintf(env.Err, "nothing was recorded; with the key, on any machine: the line below makes %s.sig; then, with both files here: %s\n", file, env.Hint(append(back, "--signature", out+".sig")...))
	_, err := fmt.Fprintf(env.Out, "ssh-keygen -Y sign -f KEY -n %s %s\n", namespace, file)
	return err
}
