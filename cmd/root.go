package cmd

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"handback/cmd/session"
	"handback/report"
)

const rootLong = `handback walks a person through the checks that return electrical plant to
service after work, judges each reading against what was predicted, keeps every
reading, and hands over the evidence as a workbook.

It records and judges; it authorises nothing. Local rules, the permit and the
person licensed to decide come first.

A job in five lines:

  handback plan new tap-change -o plan.yaml  write a starter plan, then edit it
  handback plan check plan.yaml              see what is wrong and what to expect
  handback open plan.yaml                    put the plan to work as a job
  handback walk JOB                          be led through its checks
  handback handover JOB                      make the workbook to sign
` + environmentHelp + exitHelp

func newRoot(env *session.Env) *cobra.Command {
	root := &cobra.Command{
		Use: "handback", Short: "prove plant fit to return to service and hand over the evidence", Long: rootLong,
		Example: "  handback demo",
		Version: session.Version, SilenceUsage: true, SilenceErrors: true, Args: cobra.ArbitraryArgs,
		RunE: chosen,
	}
	root.PersistentFlags().VarP(session.BookFlag{Env: env}, "book", "b", "record book to use")
	root.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		return badFlag(c, err)
	})
	root.SetVersionTemplate("handback {{.Version}}\n")
	root.SuggestionsMinimumDistance = 2
	help := newHelp(root)
	root.AddCommand(
		newDemo(env), newPlan(env), newOpen(env), newJobs(env), newWalk(env), newEnter(env), newDone(env), newLeft(env), newUndone(env), newFound(env), newDefect(env), newAmend(env), newFoundBad(env),
		newTry(env), newKinds(env), newInstruments(env), newStatus(env), newFlags(env), newCorrect(env), newAccept(env), newReview(env), newAnswer(env),
		newSheet(env), newRead(env), newAttach(env), newHandover(env), newExport(env), newForm(env), newPack(env), newTake(env), newJoin(env), newSign(env), newStatement(env), newStamp(env), newKey(env), newVerify(env), newSchema(env), newVersion(env), newDoctor(env), newBackup(env), newRestore(env), newArchive(env),
		help, newCompletion(env, root), newMan(env),
	)
	root.SetHelpCommand(help)
	root.CompletionOptions.DisableDefaultCmd = true
	grouped(root)
	plainUse(root)
	for _, c := range root.Commands() {
		mayLeaveJobOut(env, c)
	}
	answersInJSON(env, root)
	throughPager(env, root)
	completeFlags(env, root)
	return root
}

// plainUse keeps the word [flags] out of the usage line, which errors tell people
// to type.
func plainUse(c *cobra.Command) {
	c.DisableFlagsInUseLine = true
	for _, sub := range c.Commands() {
		plainUse(sub)
	}
}

// commandName is a command as it is typed behind the name of the program.
func commandName(c *cobra.Command) string { return strings.TrimPrefix(c.CommandPath(), "handback ") }

func suggestion(c *cobra.Command, word string) string {
	c.SuggestionsMinimumDistance = 2 // edits apart
	near := c.SuggestionsFor(word)
	if len(near) == 0 {
		return ""
	}
	return ": did you mean " + strings.Join(near, " or ") + "?"
}

// sameFlags are what options were called before, and what they are called now.
var sameFlags = map[string]string{"reason": "why", "engineer": "by", "called": "at"}

// badFlag tells of a mistake in the options of a command, and which may be meant. Where a command is to be chosen and
// none is called as the word before the option, that word is the mistake.
func badFlag(c *cobra.Command, err error) error {
	if words := c.Flags().Args(); c.HasSubCommands() && len(words) > 0 {
		return chosen(c, words)
	}
	parts, meant := session.Parts{}, ""
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() == "" {
		parts.Met = "--" + unknown.GetSpecifiedName()
		c.Flags().VisitAll(func(f *pflag.Flag) { parts.Accepted = append(parts.Accepted, "--"+f.Name) })
		if other := sameFlags[unknown.GetSpecifiedName()]; other != "" && c.Flags().Lookup(other) != nil {
			meant = ": did you mean --" + other + "?"
		} else {
			meant = session.Meant(parts.Met, parts.Accepted)
		}
	}
	return session.Apart(session.Usagef("%v%s; type: %s --help", err, meant, c.CommandPath()), parts)
}

// chosen answers for a command of which one below it is to be chosen.
func chosen(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		typed := strings.TrimPrefix(c.CommandPath()+" "+args[0], "handback ")
		var there []string
		for _, sub := range c.Commands() {
			if sub.IsAvailableCommand() {
				there = append(there, sub.Name())
			}
		}
		return session.Apart(session.Usagef("no command %q%s; type: %s --help", typed, suggestion(c, args[0]), c.CommandPath()), session.Parts{Where: "command", Met: args[0], Accepted: there})
	}
	return c.Help()
}

// taking puts the arguments of a command into their places, in order, and runs it; a
// command may take fewer than it has places for.
func taking[O any](run func(context.Context, *O) error, o *O, places ...*string) func(*cobra.Command, []string) error {
	return func(c *cobra.Command, args []string) error {
		for i, arg := range args {
			*places[i] = arg
		}
		return run(c.Context(), o)
	}
}

// jsonFlag adds --json to a command that reads.
func jsonFlag(c *cobra.Command, on *bool) {
	c.Flags().BoolVarP(on, "json", "j", false, "print one JSON document")
}

// exactly demands the named arguments.
func exactly(names ...string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) != len(names) {
			return session.Usagef("%s takes %s, %s; type: %s", c.Name(), wanted(names), given(len(args)), c.UseLine())
		}
		return nil
	}
}

// atLeast demands the named arguments; more may follow.
func atLeast(names ...string) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if len(args) < len(names) {
			return session.Usagef("%s takes at least %s, %s; type: %s", c.Name(), wanted(names), given(len(args)), c.UseLine())
		}
		return nil
	}
}

func wanted(names []string) string {
	if len(names) == 0 {
		return "no arguments"
	}
	return fmt.Sprintf("%s (%s)", report.Count(len(names), "argument", "arguments"), strings.Join(names, " "))
}

func given(n int) string {
	switch n {
	case 0:
		return "none was given"
	case 1:
		return "1 was given"
	}
	return fmt.Sprintf("%d were given", n)
}
