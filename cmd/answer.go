package cmd

import (
	"context"
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"handback/cmd/session"
)

type answerOptions struct {
	env                   *session.Env
	job, number, text, by string
}

func newAnswer(env *session.Env) *cobra.Command {
	o := &answerOptions{env: env}
	c := &cobra.Command{
		Use: "answer JOB NUMBER TEXT", Short: "answer a question of a review", Args: exactly("JOB", "NUMBER", "TEXT"),
		Long: `Answer a question that an engineer asked in a review, by its number; status and walk
show it. What waited for the answer is free of it then. Whoever asked does not answer
themselves: they withdraw the question.`,
		Example:           `  handback answer t2-return-1 2 "the lamp of the spare tester was lit as well"`,
		ValidArgsFunction: completeJobs(env, nil),
		RunE:              taking(runAnswer, o, &o.job, &o.number, &o.text),
	}
	c.Flags().StringVar(&o.by, "by", "", "who answers, a person of the plan; its only technician when not given")
	return c
}

func runAnswer(ctx context.Context, o *answerOptions) error {
	number, err := strconv.Atoi(o.number)
	if err != nil {
		return session.Usagef("%q is no number of a question", o.number)
	}
	s, err := session.OpenWrite(ctx, o.env, o.job, o.by)
	if err != nil {
		return err
	}
	defer s.Close()
	draft, err := s.AnswerDraft(number, o.text)
	if err != nil {
		return err
	}
	if err := s.Add(ctx, draft); err != nil {
		return err
	}
	fmt.Fprintf(o.env.Out, "question %d answered: %s\n", number, o.text)
	return nil
}
