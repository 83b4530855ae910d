package cmd

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/checks/written"
	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
)

type amendOptions struct {
	env          *session.Env
	job, by, why string
	instrument   string
	accept       bool
	key, out     string // of the acceptance
	signature    string
	unsigned     bool
	yes          bool
	args         []string // the plan, or key=value of an instrument
	name         string   // what the plan is called
}

func newAmend(env *session.Env) *cobra.Command {
	o := &amendOptions{env: env}
	c := &cobra.Command{
		Use: "amend JOB PLAN --by WHO --why WHY", Short: "change the plan of a job, with the reason", Args: atLeast("JOB"),
		Long: `Change the plan of a job that is under way: a joint more, a limit that is wrong, a
point that does not exist, a relief engineer, a key that is lost. PLAN is the whole plan as
it should be; its id, its people under their names and what was read with or done already
stay. Both versions stay in the record and in
the handover, with what differs. A check that is not changed keeps its attempts; one
that is changed is judged again from its readings, or is open. A check that is taken
out keeps its attempts on record.

Another instrument needs no file: --instrument ID with what its label says, and like=ID
for one of the same make in the plan, whose ranges and category it takes. For an
instrument of the plan the keys given are put right.

An amendment that no engineer made is flagged until one accepts it with --accept. Until
then the job is not ready, and what it changed frees no hold point. It is accepted by a key,
as accept does it (--key, ssh-agent, or elsewhere with --unsigned and --signature), where
the plan does not say unsigned_acceptance: yes, and wherever people have other keys or
roles: one of an engineer, or for people alone of an owner, that was listed before. A key
that is lost goes from keys to revoked, with the time and why: what was signed with it from
then on is by a key not known.`,
		Example: `  handback amend t2-return-1 plan-2.yaml --by mira --why "a fifth joint on L3"
  handback amend t2-return-1 --instrument dmm-9 like=dmm-7 serial=EX-119 due=2027-02-28 --by mira --why "dmm-7 fell"
  handback amend t2-return-1 --instrument dmm-7 serial=EX-107 --by mira --why "serial misread when the plan was written"
  handback amend t2-return-1 --accept --by jonas --why "joint seen on the photograph"
  handback amend t2-return-1 --accept --by jonas --why "relief engineer from 22:00" --unsigned -o people.json
  handback amend t2-return-1 --signature people.json.sig`,
		ValidArgsFunction: completeJobs(env, nil),
		RunE: func(c *cobra.Command, args []string) error {
			o.job, o.args = args[0], args[1:]
			return runAmend(c.Context(), o)
		},
	}
	c.Flags().StringVar(&o.by, "by", "", "who amends or accepts it, a person of the plan")
	c.Flags().StringVar(&o.why, "why", "", "why the plan is changed, or accepted")
	c.Flags().StringVar(&o.instrument, "instrument", "", "id of an instrument to add or put right, with key=value… in place of PLAN")
	c.Flags().BoolVar(&o.accept, "accept", false, "accept the plan as it was amended, by an engineer")
	c.Flags().StringVar(&o.key, "key", "", "with --accept: key file, or for a key that ssh-agent holds its public key file or SHA256 fingerprint")
	c.Flags().BoolVarP(&o.yes, "yes", "y", false, "with --accept: sign without being asked once more")
	c.Flags().BoolVar(&o.unsigned, "unsigned", false, "with --accept: write what is to be signed to the file -o, and record nothing")
	c.Flags().StringVarP(&o.out, "output", "o", "", "file to make with --unsigned")
	c.Flags().StringVar(&o.signature, "signature", "", "accept by a signature F.sig that was made elsewhere over F, which lies beside it")
	return c
}

func runAmend(ctx context.Context, o *amendOptions) error {
	var returned *report.Signed
	of := "" // the job that it is of
	if o.signature != "" {
		if o.accept || o.why != "" || o.by != "" || o.key != "" || o.unsigned {
			return session.Usagef("--signature goes alone: who accepts and why stands in what was signed")
		}
		signed, a, err := readAcceptance(o.signature)
		if err != nil {
			return err
		}
		returned, of, o.accept, o.by, o.why = signed, a.Job, true, a.Person, a.Reason
	}
	if err := o.asked(); err != nil {
		return err
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := signedOf(s, o.signature, of, returned); err != nil {
		return err
	}
	if o.accept {
		return o.accepted(ctx, s, returned)
	}
	data, p, err := o.amended(ctx, s)
	if err != nil {
		return err
	}
	if err := s.Job.MayAmend(p); err != nil {
		return fmt.Errorf("%s: %w; nothing was stored", o.name, err)
	}
	known := s.Job.Plan.Warnings()
	var dressed []chain.Draft
	if o.instrument == "" {
		if dressed, err = formDrafts(o.name, s.By, p); err != nil {
			return err
		}
	}
	entry := report.Amended{Why: o.why, PlanFile: filepath.Base(inputName(o.name)), PlanHash: chain.HashPlan(data), Plan: string(data)}
	drafts := append([]chain.Draft{{Kind: report.EntryAmend, Data: entry}}, newFormDrafts(s.Job, dressed)...)
	if err := s.Add(ctx, drafts...); err != nil {
		return err
	}
	o.tell(s, known)
	return nil
}

// asked holds the options against one another.
func (o *amendOptions) asked() error {
	switch {
	case o.unsigned != (o.out != ""), !o.accept && (o.unsigned || o.key != ""):
		return session.Usagef("--key, and --unsigned with -o FILE, go with --accept")
	case o.why == "":
		return session.Usagef("why the plan is changed is wanted: --why WHY")
	case o.accept && (len(o.args) > 0 || o.instrument != ""):
		return session.Usagef("--accept accepts the plan as it is: no plan and no instrument beside it")
	case !o.accept && o.instrument == "" && len(o.args) != 1, o.instrument != "" && len(o.args) == 0:
		return session.Usagef("give one PLAN, or --instrument ID key=value…, or --accept")
	case o.by == "":
		return session.Usagef("who amends or accepts the plan is wanted: --by WHO, a person of it")
	}
	return session.Reasons(o.why)
}

// amended is the plan as it should be.
func (o *amendOptions) amended(ctx context.Context, s *session.Session) (data []byte, p *plan.Plan, err error) {
	if o.instrument == "" {
		o.name = o.args[0]
		data, p, err = readPlan(o.env, o.name)
	} else {
		o.name = s.Job.Opened.PlanFile
		if data, err = s.PlanText(ctx); err == nil {
			data, p, err = o.withInstrument(data)
		}
	}
	if err == nil && !utf8.Valid(data) {
		err = fmt.Errorf("%s: it is not UTF-8 text", o.name)
	}
	return data, p, err
}

// withInstrument is the plan in force with the instrument that was given.
func (o *amendOptions) withInstrument(data []byte) ([]byte, *plan.Plan, error) {
	var set []written.Set
	like := ""
	for _, pair := range o.args {
		key, value, ok := strings.Cut(pair, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		switch {
		case !ok || value == "":
			return nil, nil, session.Usagef("%q: key=value is wanted, such as serial=EX-119", pair)
		case slices.ContainsFunc(set, func(s written.Set) bool { return s.Key == key }) || key == "like" && like != "":
			return nil, nil, session.Usagef("%s is given twice", key)
		case key == "like":
			like = value
		case key == "id":
			return nil, nil, session.Usagef("the id is given with --instrument")
		default:
			set = append(set, written.Set{Key: key, Value: value})
		}
	}
	data, err := written.WithInstrument(data, o.instrument, like, set)
	if err != nil {
		return nil, nil, err
	}
	p, err := loadToWork(o.name, data)
	return data, p, err
}

// tell says what was changed, and what follows from it.
func (o *amendOptions) tell(s *session.Session, known plan.Problems) {
	a := s.Job.Amendments[len(s.Job.Amendments)-1]
	fmt.Fprintf(o.env.Out, "plan of %s amended, SHA-256 %s:\n", s.Job.ID, a.PlanHash)
	for _, words := range report.DiffersWords(a.Differs) {
		fmt.Fprintf(o.env.Out, "  %s\n", words)
	}
	for _, st := range s.Job.TakenOut {
		if st.Out == a.Seq {
			fmt.Fprintf(o.env.Out, "%s: taken out of the plan; its %s on record\n", st.Check.ID, report.Count(len(st.Attempts), "attempt stays", "attempts stay"))
		}
	}
	s.SayJudgedAgain("")
	for _, w := range a.Version.Warnings() {
		if !slices.ContainsFunc(known, func(k plan.Problem) bool { return k.Cause == w.Cause }) {
			fmt.Fprintf(o.env.Err, "warning: %s\n", w)
		}
	}
	if a.Accepted == nil {
		who := "an engineer"
		if s.Job.PlanByKey(s.Job.Plan) {
			who = "an engineer's key"
		}
		fmt.Fprintf(o.env.Err, "the job is not ready until "+who+" accepts it, with: %s\n", o.env.Hint("amend", s.Job.ID, "--accept", "--by", "ENGINEER", "--why", "WHY"))
	}
}

// accepted records that an engineer accepts the plan as it was amended.
func (o *amendOptions) accepted(ctx context.Context, s *session.Session, signed *report.Signed) error {
	if err := s.Job.MayAcceptPlan(s.By, o.why); err != nil {
		return err
	}
	a := s.Job.AcceptingPlan(s.By, o.why)
	a.At = o.env.Now().Truncate(time.Second)
	if o.unsigned {
		return writeAcceptance(o.env, o.out, a, "amend", o.job)
	}
	if signed == nil && (o.key != "" || s.Job.PlanByKey(s.Job.Plan)) {
		keys := &keyring{env: o.env, name: o.key, yes: o.yes}
		defer keys.release()
		var err error
		if signed, err = keys.accept(ctx, s, session.NewLines(o.env), a); err != nil {
			return err
		}
	}
	if signed != nil {
		if why := s.Job.Prove(signed, a).Doubt(); why != "" {
			return fmt.Errorf("not accepted: %s", why)
		}
	}
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryAccept, Data: report.AcceptedPlan{PlanHash: s.Job.Force(), Reason: o.why, Signed: signed}}); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "plan of %s as amended, SHA-256 %s: accepted by %s: %s\n", s.Job.ID, s.Job.Force(), s.Job.PersonName(s.By), o.why)
	if signed != nil {
		fmt.Fprintln(o.env.Out, s.Job.Proof(s.Job.Head().Seq).Words())
	}
	return nil
}
