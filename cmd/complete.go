package cmd

import (
	"context"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/records/chain"
)

type completion = func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective)

// completeJobs offers the jobs of the book, then the checks or holds of the
// first argument's job.
func completeJobs(env *session.Env, then func(*session.Session) []string) completion {
	return func(c *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		ctx := contextOf(c)
		var out []string
		switch {
		case len(args) == 0:
			jobs, err := listJobs(ctx, env)
			if err != nil {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			for _, j := range jobs {
				out = append(out, j.ID+"\t"+j.Title)
				for _, b := range j.Branches {
					out = append(out, b.ID+"\t"+j.Title)
				}
			}
		case len(args) == 1 && then != nil:
			s, err := session.OpenLook(ctx, env, args[0])
			if err != nil {
				return nil, cobra.ShellCompDirectiveNoFileComp
			}
			defer s.Close()
			out = then(s)
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	}
}

// completeJobAndFile offers a job and then any file.
func completeJobAndFile(env *session.Env) completion {
	return func(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(args) == 1 {
			return nil, cobra.ShellCompDirectiveDefault
		}
		return completeJobs(env, nil)(c, args, typed)
	}
}

// completeJobOrFile offers the jobs, and the files where none of them fits.
func completeJobOrFile(env *session.Env) completion {
	return func(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		jobs, directive := completeJobs(env, nil)(c, args, typed)
		if len(args) == 0 {
			directive = cobra.ShellCompDirectiveDefault
		}
		return jobs, directive
	}
}

// files are the options whose value is a file or a folder: the shell completes them itself.
var fileFlags = []string{"allowed-signers", "archive", "book", "csv", "file", "key", "labels", "logo", "output", "page", "policy", "readings", "reply", "set",
	"signature", "template", "tsa-ca", "verify plan", "demo plan", "handover text", "archive prove check", "archive prove head", "archive prove since"}

// wordFlags are those whose value a person makes up, or reads off something.
var wordFlags = []string{"asset", "at", "bags", "caption", "change", "closed", "days", "due", "entries", "error", "find", "firm", "form-number", "from", "head", "heading",
	"indicator", "keep", "listen", "lock", "name", "owner", "past-hold", "person", "plan", "plant", "repeat", "serial", "since", "site", "telephone", "text",
	"to", "until", "where", "why", "words", "years", "archive find instrument", "archive keep by", "archive redact by", "done key"}

// fixedFlags are those with a few values that are the same in every job.
func fixedFlags() map[string][]string {
	return map[string][]string{
		"as": chain.Roles, "kind": plan.KindNames(), "require": append(slices.Clone(chain.Roles), "acceptances", "ready"),
		"verdict": slices.Concat(chain.Verdicts, checkVerdicts()),
	}
}

// jobFlags are those whose value stands in the job that the command is about.
var jobFlags = map[string]func(*cobra.Command, *session.Session) []string{
	"before": func(_ *cobra.Command, s *session.Session) []string { return session.HoldIDs(s) },
	"by":     people(""), "caller": people(""), "confirmed": people(""), "in-control": people(""), "instructed": people(""), "listened": people(""),
	"check":     func(_ *cobra.Command, s *session.Session) []string { return session.CheckIDs(s) },
	"accept by": people("engineer"), "join by": people("engineer"), "review by": people("engineer"),
	"entry": func(_ *cobra.Command, s *session.Session) []string { return s.SignedEntries() },
	"holds": func(_ *cobra.Command, s *session.Session) []string { return session.StepIDs(s) },
	"import": func(_ *cobra.Command, s *session.Session) []string {
		return plan.IDsOf(s.Job.Plan.Imports, func(m plan.Import) string { return m.ID })
	},
	"instrument": func(_ *cobra.Command, s *session.Session) []string { return session.MeterIDs(s) },
	"override":   func(_ *cobra.Command, s *session.Session) []string { return session.MayOverride(s) },
	"photo":      photos,
	"step":       func(_ *cobra.Command, s *session.Session) []string { return session.StepIDs(s) },
}

func people(role string) func(*cobra.Command, *session.Session) []string {
	return func(_ *cobra.Command, s *session.Session) []string { return session.PeopleIDs(s.Job.Plan, role) }
}

// photos are those that the check or the step asks for which the command names.
func photos(c *cobra.Command, s *session.Session) []string {
	check, _ := c.Flags().GetString("check") // an error is that the command has none
	step, _ := c.Flags().GetString("step")
	for _, it := range s.Job.Plan.Items() {
		if it.ID() == check || it.ID() == step {
			return it.Photos()
		}
	}
	return nil
}

// completeFlags has the shell complete the value of every option.
func completeFlags(env *session.Env, c *cobra.Command) {
	fixed := fixedFlags()
	c.LocalFlags().VisitAll(func(f *pflag.Flag) {
		if f.Value.Type() == "bool" {
			return
		}
		var of completion
		for _, name := range flagNames(c, f) {
			offer := jobFlags[name]
			switch {
			case name == "open by":
				of = completePlanPeople(env)
			case slices.Contains(fileFlags, name):
				return
			case slices.Contains(wordFlags, name):
				of = cobra.NoFileCompletions
			case fixed[name] != nil:
				of = cobra.FixedCompletions(fixed[name], cobra.ShellCompDirectiveNoFileComp)
			case offer != nil:
				of = completeOfJob(env, offer)
			default:
				continue
			}
			break
		}
		if of != nil {
			_ = c.RegisterFlagCompletionFunc(f.Name, of) // fails only for an option that is not there
		}
	})
	for _, sub := range c.Commands() {
		completeFlags(env, sub)
	}
}

// flagNames are what an option may be listed as: with its command, where that means
// something else by it than others, and alone.
func flagNames(c *cobra.Command, f *pflag.Flag) []string {
	return []string{commandName(c) + " " + f.Name, f.Name}
}

// completeOfJob offers something of the job that a command names, or of the one at hand.
func completeOfJob(env *session.Env, offer func(*cobra.Command, *session.Session) []string) completion {
	return func(c *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
		ctx := contextOf(c)
		jobs, _ := listJobs(ctx, env)
		job, _ := jobAtOnce(env, jobs)
		if len(args) > 0 && hasJob(jobs, args[0]) {
			job = args[0]
		}
		s, err := session.OpenLook(ctx, env, job)
		if err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		defer s.Close()
		return offer(c, s), cobra.ShellCompDirectiveNoFileComp
	}
}

// completePlanPeople offers the people of the plan that a command names.
func completePlanPeople(env *session.Env) completion {
	return func(_ *cobra.Command, args []string, _ string) (out []string, _ cobra.ShellCompDirective) {
		if len(args) > 0 && args[0] != "-" {
			if p, err := loadPlan(env, args[0]); err == nil {
				out = session.PeopleIDs(p, "")
			}
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	}
}

// completeReadings offers a job, a check, and then what the check asks, key=, or what may
// stand behind one.
func completeReadings(env *session.Env, judged bool) completion {
	return func(c *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(args) < 2 {
			return completeJobs(env, session.CheckIDs)(c, args, typed)
		}
		s, err := session.OpenLook(contextOf(c), env, args[0])
		if err != nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		defer s.Close()
		check := s.Job.Plan.Check(args[1])
		if check == nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		in := s.Job.Input(check, env.Now())
		if judged {
			in = s.Job.Again(s.Job.State(check.ID))
		}
		key, _, behind := strings.Cut(typed, "=")
		var out []string
		for _, f := range in.Form() {
			switch {
			case !behind && !slices.ContainsFunc(args[2:], func(a string) bool { return strings.HasPrefix(a, f.Key+"=") }):
				out = append(out, f.Key+"=\t"+f.Label)
			case behind && f.Key == key:
				for _, v := range session.Choices(in.Plan, f) {
					out = append(out, key+"="+v)
				}
			}
		}
		if !behind {
			return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveNoSpace
		}
		return out, cobra.ShellCompDirectiveNoFileComp
	}
}

func contextOf(c *cobra.Command) context.Context {
	if ctx := c.Context(); ctx != nil {
		return ctx
	}
	return context.Background()
}
