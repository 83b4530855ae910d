package cmd

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
)

// failure is what a command prints with --json in the place of its answer when it has none.
type failure struct {
	Error fault `json:"error"`
}

// fault is what went wrong, and what it is about where that is known.
type fault struct {
	Status   int      `json:"status" title:"the exit status"`
	What     string   `json:"what" title:"in words, as stderr has it"`
	Where    string   `json:"where,omitempty" title:"the argument, option, key or place in a file"`
	Met      string   `json:"met,omitempty" title:"what stood there"`
	Accepted []string `json:"accepted" title:"what may stand there"`
	Next     []string `json:"next" title:"command lines that help"`
	Each     []cause  `json:"each,omitempty" title:"of a plan, everything that is wrong with it"`
}

// cause is one thing of several that are wrong.
type cause struct {
	Where string `json:"where"`
	What  string `json:"what"`
}

func failureOf(env *session.Env, err error) failure {
	parts := session.PartsOf(err)
	f := fault{Status: exitStatus(err), What: err.Error(), Where: parts.Where, Met: parts.Met, Accepted: parts.Accepted, Next: env.Hinted(err.Error())}
	var wrong plan.Problems
	if errors.As(err, &wrong) {
		for _, p := range wrong {
			where := fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Col)
			f.Each = append(f.Each, cause{where, strings.TrimPrefix(p.String(), where+": ")})
		}
	}
	return failure{f}
}

// wantsJSON tells whether a command that failed was to answer in JSON. Where its options
// were not understood, it was asked for by whoever wrote so.
func wantsJSON(c *cobra.Command, args []string, err error) bool {
	if f := c.Flags().Lookup("json"); f != nil && f.Changed {
		return f.Value.String() == "true"
	}
	var usage session.UsageError
	return errors.As(err, &usage) && (slices.Contains(args, "--json") || slices.Contains(args, "-j"))
}
