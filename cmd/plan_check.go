package cmd

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/checks/kinds"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

type planCheckOptions struct {
	env  *session.Env
	file string
	json bool
}

func newPlanCheck(env *session.Env) *cobra.Command {
	o := &planCheckOptions{env: env}
	c := &cobra.Command{
		Use: "check PLAN", Short: "say what is wrong with a plan and what to expect", Args: exactly("PLAN"),
		Long: `Check a plan. Everything wrong is named with its line, the value met and what is
accepted: what cannot be read, and what no plan may be worked by, such as a value
beyond what any plan may give, dead work that nothing shows dead, one instrument
under two names, or a line that a starter marked REPLACE. A sound plan prints its steps and what each check may expect to read,
worked out from the nameplate data alone, and for every pair of transformers the
paralleling study: what the plates agree in, the share of load, the fault level, the
volts of every tap and the circulating current of every pair of taps. Exit status 3
when something lies outside its limits; the last line says how much.`,
		Example: "  handback plan check plan.yaml",
		RunE: func(c *cobra.Command, args []string) error {
			o.file = args[0]
			return runPlanCheck(o)
		},
	}
	jsonFlag(c, &o.json)
	return c
}

// planReport is the answer of plan check.
type planReport struct {
	File     string        `json:"file"`
	Problems plan.Problems `json:"problems"`
	Steps    []planStep    `json:"steps"`
	Studies  []kinds.Study `json:"studies"`
	Warnings plan.Problems `json:"warnings"`
	Expected int           `json:"expected"` // values worked out from the plates
	Outside  int           `json:"outside"`  // of them, outside their limits
}

type planStep struct {
	Check   string            `json:"check,omitempty"`
	Hold    string            `json:"hold,omitempty"`
	Kind    string            `json:"kind,omitempty"`
	Title   string            `json:"title"`
	At      string            `json:"at,omitempty"`
	Needs   []string          `json:"needs,omitempty"`
	Expects []plan.Prediction `json:"expects,omitempty"`
}

func runPlanCheck(o *planCheckOptions) error {
	rep := planReport{File: o.file, Problems: plan.Problems{}, Steps: []planStep{}, Studies: []kinds.Study{}, Warnings: plan.Problems{}}
	_, p, err := readPlan(o.file)
	var wrong plan.Problems
	if err != nil && !(o.json && errors.As(err, &wrong)) {
		return err
	}
	if wrong != nil {
		rep.Problems = wrong
	} else {
		rep.Steps, rep.Studies = planSteps(p), kinds.Studies(p)
		rep.Warnings = append(rep.Warnings, p.Warnings()...)
		rep.count()
	}
	if o.json {
		err = printJSON(o.env.Out, rep)
	} else {
		err = printPlanCheck(o.env.Out, p, rep)
	}
	switch {
	case err != nil:
		return err
	case wrong != nil:
		return fmt.Errorf("%s: %s", o.file, report.Count(len(wrong), "problem", "problems"))
	case rep.Outside > 0:
		return errNotReady
	}
	return nil
}

func printPlanCheck(w io.Writer, plan *plan.Plan, rep planReport) error {
	fmt.Fprintf(w, "%s: %s, %s\n\n", rep.File, plan.Title, plan.Site)
	if err := printSteps(w, rep.Steps); err != nil {
		return err
	}
	for _, s := range rep.Studies {
		if err := printStudy(w, s); err != nil {
			return err
		}
	}
	if len(rep.Warnings) > 0 {
		fmt.Fprintln(w)
	}
	for _, q := range rep.Warnings {
		fmt.Fprintf(w, "warning: %s\n", q)
	}
	if rep.Outside > 0 {
		fmt.Fprintf(w, "\n%d of %d outside limits\n", rep.Outside, rep.Expected)
	}
	return nil
}

// count counts what the plates let one expect, and what of it is outside its limits:
// as much as is printed with OUT or OVER. A share of the load of all ratings together is
// no limit: the greatest load says what may be carried.
func (r *planReport) count() {
	add := func(outside bool) {
		r.Expected++
		if outside {
			r.Outside++
		}
	}
	for _, s := range r.Steps {
		for _, e := range s.Expects {
			add(e.Warn)
		}
	}
	for _, s := range r.Studies {
		for _, f := range s.Findings {
			add(!f.OK)
		}
		for _, f := range s.Faults {
			if f.ShortTime != nil && f.Peak != nil {
				add(!f.OK)
			}
		}
	}
}

func planSteps(p *plan.Plan) []planStep {
	out := []planStep{}
	for _, it := range p.Items() {
		if h := it.Hold; h != nil {
			out = append(out, planStep{Hold: h.ID, Title: h.Action, Needs: h.Needs})
			continue
		}
		c := it.Check
		s := planStep{Check: c.ID, Kind: c.Kind.Name, Title: c.Title, At: c.At}
		if c.Kind.Predict != nil {
			s.Expects = c.Kind.Predict(p, c)
		}
		out = append(out, s)
	}
	return out
}

func printSteps(w io.Writer, steps []planStep) error {
	for i, s := range steps {
		if s.Hold != "" {
			fmt.Fprintf(w, "%2d  HOLD %s: %s\n      needs %s\n", i+1, s.Hold, s.Title, strings.Join(s.Needs, ", "))
			continue
		}
		fmt.Fprintf(w, "%2d  %s (%s): %s\n", i+1, s.Check, s.Kind, session.Place(s.Title, s.At))
		tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
		for _, e := range s.Expects {
			mark := ""
			if e.Warn {
				mark = "OUT OF LIMITS "
			}
			source := e.Source
			if strings.Contains(e.Text, "("+source+")") {
				source = "" // the limit's words name it already
			}
			fmt.Fprintf(tw, "      %s\t%s%s\t%s\n", e.Name, mark, e.Text, source)
		}
		if err := tw.Flush(); err != nil {
			return err
		}
	}
	return nil
}
