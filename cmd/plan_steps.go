package cmd

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/switching"
)

type planStepsOptions struct {
	env       *session.Env
	file, out string
	force     bool
}

func newPlanSteps(env *session.Env) *cobra.Command {
	o := &planStepsOptions{env: env}
	c := &cobra.Command{
		Use: "steps PLAN", Short: "the list of switching for the person in control", Args: exactly("PLAN"),
		Long: `Print the steps of a plan as the list of switching, in order: each with its section of
the procedure, lock, key and document, what the dry run says it leads to, and room for
who instructed, who did it, who confirmed, and when. Hold points name the checks that
they wait for; checks stand in their place. With -o FILE.xlsx the list is a sheet to fill
in, otherwise text. A plan that plan check objects to has no list. Exit status 3 when the
dry run refuses a step or leaves something over: it is said on the list. The list
authorises nothing: each step is done on the instruction of the person in control.`,
		Example: "  handback plan steps plan.yaml\n  handback plan steps plan.yaml -o switching.xlsx",
		RunE: func(c *cobra.Command, args []string) error {
			o.file = args[0]
			return runPlanSteps(o)
		},
	}
	outputFlag(c, &o.out, &o.force)
	return c
}

func runPlanSteps(o *planStepsOptions) error {
	_, p, err := readPlan(o.env, o.file)
	if err != nil {
		return err
	}
	if strings.EqualFold(filepath.Ext(o.out), ".xlsx") {
		out := output{path: o.out}
		if err := mayWrite(o.env, o.force, out); err != nil {
			return err
		}
		data, err := switching.Workbook(p, o.env.Now())
		if err != nil {
			return err
		}
		if err := write(o.env, data, out, o.force); err != nil {
			return err
		}
		fmt.Fprintf(o.env.Err, "%s: the list of switching of %s\n", o.out, p.Title)
	} else if err := print(o.env, []byte(switching.Text(p)), o.out, o.force); err != nil {
		return err
	}
	if !switching.Clean(p) {
		return errNotReady
	}
	return nil
}
