package cmd

import (
	"cmp"
	"context"
	"encoding/hex"
	"fmt"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/records/stamp"
	"handback/report"
	"handback/report/trust"
)

type stampOptions struct {
	env             *session.Env
	job, reply, out string
	by              string
	query, force    bool
}

func newStamp(env *session.Env) *cobra.Command {
	o := &stampOptions{env: env}
	c := &cobra.Command{
		Use: "stamp JOB --query -o FILE | --reply FILE", Short: "have an authority of time vouch for a job's record", Args: exactly("JOB"),
		Long: `Have an authority of time (RFC 3161) vouch that the record of a job was there: whatever
the clocks of the people who wrote and signed it said. Best done after the last signature.

--query writes what the authority is asked: the head hash, and nothing else of the job.
It is carried to where there is a network, and the reply is carried back. --reply takes
the reply up: its signature is checked and the hash held against the record, and it is
stored with the job as an attachment and goes into its bag. Entries that came after the
query are not covered.

verify --tsa-ca FILE tells whether the authority leads to one that you trust, and holds
every time that the record tells against the stamp. openssl ts tells the same.`,
		Example: `  handback stamp t2-return-1 --query -o t2.tsq
  curl -H 'Content-Type: application/timestamp-query' --data-binary @t2.tsq ADDRESS > t2.tsr
  handback stamp t2-return-1 --reply t2.tsr --by mira`,
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runStamp, o, &o.job),
	}
	c.Flags().BoolVar(&o.query, "query", false, "write what the authority is asked")
	c.Flags().StringVar(&o.reply, "reply", "", "file of what it answered; - for stdin")
	c.Flags().StringVar(&o.by, "by", "", "who takes the reply up, a person of the plan")
	outputFlag(c, &o.out, &o.force)
	return c
}

func runStamp(ctx context.Context, o *stampOptions) error {
	switch {
	case o.query == (o.reply != ""):
		return session.Usagef("say which: --query -o FILE, or --reply FILE")
	case o.query && o.out == "":
		return session.Usagef("say which file to write: -o FILE")
	case !o.query && o.out != "":
		return session.Usagef("-o goes with --query")
	case !o.query && cmp.Or(o.by, o.env.By) == "":
		return session.Usagef("say who takes the reply up: --by WHO, a person of the plan")
	case o.query:
		return o.ask(ctx)
	}
	data, err := readInput(o.env, o.reply, stamp.MaxReply)
	if err != nil {
		return err
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	token, entry, err := trust.ReadStamp(s.Job, data)
	if err != nil {
		return fmt.Errorf("%s: %w", o.reply, err)
	}
	for _, a := range s.Job.Attachments {
		if a.SHA256 == chain.HashFile(data) {
			return fmt.Errorf("%s: entry %d keeps it already", o.reply, a.Seq)
		}
	}
	if err := s.Job.RoomFor(len(data)); err != nil {
		return err
	}
	a := chain.NewAttached(o.reply, data, fmt.Sprintf("time stamp of entry %d by %s", entry, report.OneLine(token.Authority)), false)
	a.Stamped = entry
	if err := s.Add(ctx, chain.Draft{Kind: report.EntryAttach, Data: a, File: data}); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "entry %d: the record up to entry %d was there by %s, as %s says\n", s.Job.Head().Seq, entry, report.Stamp(token.By()), report.OneLine(token.Authority))
	fmt.Fprintf(o.env.Err, "whether that authority is to be believed is shown by: %s\n", o.env.Hint("verify", o.job, "--tsa-ca", "FILE"))
	return nil
}

// ask writes the query for the head of the job.
func (o *stampOptions) ask(ctx context.Context) error {
	s, err := session.OpenRead(ctx, o.env, o.job)
	if err != nil {
		return err
	}
	defer s.Close()
	var hash [32]byte
	if _, err := hex.Decode(hash[:], []byte(s.Job.Head().Hash)); err != nil {
		return err
	}
	query, err := stamp.Query(hash)
	if err != nil {
		return err
	}
	out := output{path: o.out, to: bytesOut}
	if err := mayWrite(o.env, o.force, out); err != nil {
		return err
	}
	if err := write(o.env, query, out, o.force); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Err, "%s asks for a time stamp of entry %d, %s\n", o.out, s.Job.Head().Seq, s.Job.Head().Hash)
	return nil
}
