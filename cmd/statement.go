package cmd

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/report"
	"handback/report/files"
)

type statementOptions struct {
	env               *session.Env
	job, out, signers string
	entry             int
	unsigned          bool
	role, by          string
	nameStops         bool
}

func newStatement(env *session.Env) *cobra.Command {
	o := &statementOptions{env: env}
	c := &cobra.Command{
		Use: "statement JOB", Short: "write a signed statement out, to be verified without handback", Args: exactly("JOB"),
		Long: `Write a signed statement of a job into a new folder, so that it can be verified
without this program:

  statement.json      what was signed, byte for byte
  statement.json.sig  the signature
  allowed_signers     whose keys are trusted: those of the plan, or --allowed-signers
  handover.json       the handover data, whose SHA-256 stands in the statement
  handover.xlsx       the workbook that was signed, byte for byte; likewise
  handover.html       the page that was signed; likewise

With --unsigned it writes into the file -o what a person would sign now, to be signed
elsewhere; sign --signature takes the signature in.

The commands that verify it are printed. A list of keys that comes with what it is to
prove proves little: compare it with one you had before.`,
		Example: `  handback statement t2-return-1 -o t2-signed
  handback statement t2-return-1 --unsigned --as engineer -o state.json`,
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runStatement, o, &o.job),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "folder to make; JOB-signed-ENTRY when not given")
	c.Flags().IntVar(&o.entry, "entry", 0, "entry of the signature; the newest when not given")
	c.Flags().BoolVar(&o.unsigned, "unsigned", false, "write what is to be signed to the file -o, to be signed elsewhere")
	c.Flags().StringVar(&o.role, "as", "", "with --unsigned: role to sign in: "+strings.Join(chain.Roles, ", "))
	c.Flags().StringVar(&o.by, "by", "", "with --unsigned: who signs; the only one in the role when not given")
	c.Flags().BoolVar(&o.nameStops, "name-stops", false, "with --unsigned: although stops stand; the statement names them")
	signersFlag(c, &o.signers)
	return c
}

// signersFlag adds --allowed-signers to a command.
func signersFlag(c *cobra.Command, file *string) {
	c.Flags().StringVar(file, "allowed-signers", "", "file of OpenSSH that lists whose keys are trusted, instead of the plan")
}

// readSigners reads the list of trusted keys; without a file it is the plan's, as the
// text that goes with a statement.
func readSigners(env *session.Env, file string, job *report.Job) (trust chain.Signers, text []byte, err error) {
	if file == "" {
		if trust, err = job.Signers(); err != nil {
			return nil, nil, err
		}
		for _, s := range trust {
			text = fmt.Appendln(text, s)
		}
	} else {
		if text, err = readFile(file, maxInput); err != nil {
			return nil, nil, fmt.Errorf("allowed signers %s: %w", file, err)
		}
		text = inUTF8(text)
		if trust, err = chain.ParseSigners(text, env.Now().Location()); err != nil {
			return nil, nil, fmt.Errorf("%s: %w", file, err)
		}
	}
	if trust == nil {
		trust = chain.Signers{} // an empty list trusts nobody: it does not stand for the plan's
	}
	return trust, text, nil
}

// runUnsigned writes what a person would sign now.
func runUnsigned(ctx context.Context, o *statementOptions) error {
	if o.out == "" || o.entry != 0 || o.signers != "" {
		return session.Usagef("--unsigned and -o FILE go together, with --as ROLE, without --entry and --allowed-signers")
	}
	s, err := session.OpenRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	x, err := newToSign(ctx, s, o.role, o.by, o.nameStops)
	if err != nil {
		return err
	}
	text, err := x.statement.Encode()
	if err != nil {
		return err
	}
	return writeUnsigned(o.env, o.out, text, s.Job.StatementWords(x.statement), chain.StatementNamespace, "sign", o.job)
}

func runStatement(ctx context.Context, o *statementOptions) error {
	if o.unsigned {
		return runUnsigned(ctx, o)
	}
	if o.role != "" || o.by != "" || o.nameStops {
		return session.Usagef("--as, --by and --name-stops go with --unsigned: what is signed already says who signed it")
	}
	s, err := session.OpenRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	readFiles(s, ctx)
	trust, list, err := readSigners(o.env, o.signers, s.Job)
	if err != nil {
		return err
	}
	signed, err := o.pick(s.Job, trust)
	if err != nil {
		return err
	}
	if len(signed.Faults) > 0 {
		return fmt.Errorf("job %s, entry %d: %w: %s; every fault is named by: %s", s.Job.ID, signed.Seq, session.ErrIntegrity, signed.Faults[0], o.env.Hint("verify", s.Job.ID))
	}
	data, err := s.Job.SignedData(signed.Signature)
	if err != nil {
		return err
	}
	if o.out == "" {
		o.out = fmt.Sprintf("%s-signed-%d", s.Job.ID, signed.Seq)
	}
	dir, err := makeFolder(o.env, o.out)
	if err != nil {
		return err
	}
	f := map[string][]byte{"statement.json": []byte(signed.Text), "statement.json.sig": []byte(signed.Armoured), "allowed_signers": list, "handover.json": data}
	for _, a := range signed.Kept {
		if f[a.Name], err = s.Job.Files(a.SHA256); err != nil {
			return err
		}
	}
	for name, data := range f {
		if err := files.Write(filepath.Join(dir, name), data, once(o.env)); err != nil {
			return err
		}
	}
	fmt.Fprintf(o.env.Err, "%s: %s\n", dir, s.Job.SignedWords(signed.Signature))
	if why := signed.Unlisted + signed.Untold; why != "" {
		fmt.Fprintf(o.env.Err, "%s: put the line you trust into %s before you verify\n", why, filepath.Join(dir, "allowed_signers"))
	}
	_, err = fmt.Fprint(o.env.Out, checkCommands(dir, signed.Signature, trust))
	return err
}

// pick finds the signature to write out.
func (o *statementOptions) pick(j *report.Job, trust chain.Signers) (report.Checked, error) {
	all, err := j.CheckSignatures(trust)
	if err != nil {
		return report.Checked{}, err
	}
	if len(all) == 0 {
		return report.Checked{}, fmt.Errorf("job %s is not signed; type: %s", j.ID, o.env.Hint("sign", j.ID, "--as", "ROLE"))
	}
	if o.entry == 0 {
		return all[len(all)-1], nil
	}
	var entries []string
	for _, c := range all {
		if c.Seq == o.entry {
			return c, nil
		}
		entries = append(entries, fmt.Sprint(c.Seq))
	}
	return report.Checked{}, session.Usagef("entry %d of job %s is no signature: there are %s", o.entry, j.ID, strings.Join(entries, ", "))
}

// checkCommands are what a shell is given to verify the files of a folder.
func checkCommands(dir string, signed report.Signature, trust chain.Signers) string {
	st := signed.Statement
	file := func(name string) string { return session.ShellWord(filepath.Join(dir, name)) }
	when := ""
	for _, s := range trust {
		if !s.After.IsZero() || !s.Before.IsZero() {
			when = " -O verify-time=" + st.At.In(time.UTC).Format("20060102150405") + "Z"
		}
	}
	out := fmt.Sprintf("ssh-keygen -Y verify -f %s -I %s -n %s%s -s %s < %s\n",
		file("allowed_signers"), st.Person, chain.StatementNamespace, when, file("statement.json.sig"), file("statement.json"))
	sum := func(name, member, digest string) {
		out += sumLine(runtime.GOOS, file(name), member+" in the statement: "+digest)
	}
	sum("handover.json", "handover", st.Handover)
	for _, a := range signed.Kept {
		sum(a.Name, a.Document, a.SHA256)
	}
	return out
}

// sumLine is a command that a system has to hash a file, with what is told of it: behind
// the command, or below it where the shells have no comment in common.
func sumLine(system, file, told string) string {
	switch system {
	case "windows":
		return fmt.Sprintf("certutil -hashfile %s SHA256\n  %s\n", file, told)
	case "darwin":
		return fmt.Sprintf("shasum -a 256 %s   # %s\n", file, told)
	}
	return fmt.Sprintf("sha256sum %s   # %s\n", file, told)
}
