package cmd

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"handback/checks/kinds"
	"handback/checks/network"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
	"handback/report/switching"
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
volts of every tap and the circulating current of every pair of taps.

A plan may include files beside it, and folders: include: [people.yaml, register/]. What
they hold stands as if it stood in the plan, and a problem names the file and line it
stands at. An instrument whose calibration has ended, or ends within 30 days, is a warning.
What a report of tests needs and the plan does not say (ISO/IEC 17025:2017, 7.8.2.1: the
client, the firm that tests, addresses, serial or asset numbers) is a warning.

Where the plan has a network, its steps are played on it from the normal states, as a
dry run: beside each step stands what goes dark, what is isolated and secured by what,
what could feed a dead part backwards and through which device, what stands in parallel
and how long, and every rule that the step breaks: why, where the rule comes from, what
cures it and who may override it. At the end stands what is left over and not as at the
start or as the plan says (network, end). A dry run authorises nothing: local rules and
the person in control come first.

Exit status 3 when something lies outside its limits, or the dry run refuses a step or
leaves something over; lines at the end say how much.`,
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
	Dry      *dryReport    `json:"dry_run,omitempty"`
	clean    bool          // nothing is refused or left over in the dry run
}

// dryReport is the dry run of a plan with a network, beside what stands at each step.
type dryReport struct {
	Words     string             `json:"words"`
	Refused   bool               `json:"refused"`
	Parallels []network.Parallel `json:"parallels"` // from step to step, by the numbers printed
	Left      []network.Leftover `json:"left"`
	End       network.View       `json:"end"`
	begins    []string
	left      []string
}

type planStep struct {
	Check   string            `json:"check,omitempty"`
	Hold    string            `json:"hold,omitempty"`
	Step    string            `json:"step,omitempty"`
	Act     network.Act       `json:"act,omitempty"`
	Kind    string            `json:"kind,omitempty"`
	Title   string            `json:"title"`
	At      string            `json:"at,omitempty"`
	Needs   []string          `json:"needs,omitempty"`
	Expects []plan.Prediction `json:"expects,omitempty"`
	Leads   *network.Line     `json:"leads_to,omitempty"` // in the dry run
	facts   []string
}

func runPlanCheck(o *planCheckOptions) error {
	rep := planReport{File: o.file, Problems: plan.Problems{}, Steps: []planStep{}, Studies: []kinds.Study{}, Warnings: plan.Problems{}, clean: true}
	p, err := loadPlan(o.env, o.file)
	if err == nil && len(p.Objections()) > len(p.Breaches()) { // what the dry run objects to is told with the steps
		err = p.Objections()
	}
	if err == nil {
		_, err = formDrafts(o.file, "", p)
	}
	var wrong plan.Problems
	if err != nil && !(o.json && errors.As(err, &wrong)) {
		return err
	}
	if wrong != nil {
		rep.Problems = wrong
	} else {
		rep.Steps, rep.Studies = planSteps(p), kinds.Studies(p)
		rep.Dry, rep.clean = dryRun(p), switching.Clean(p)
		rep.Warnings = slices.Concat(rep.Warnings, p.Warnings(), p.Due(o.env.Now()), p.Wanting())
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
	case rep.Outside > 0, !rep.clean:
		return errNotReady
	}
	return nil
}

func printPlanCheck(w io.Writer, plan *plan.Plan, rep planReport) error {
	fmt.Fprintf(w, "%s: %s, %s\n\n", rep.File, plan.Title, plan.Site)
	if err := printSteps(w, rep.Steps); err != nil {
		return err
	}
	printDryRun(w, rep.Dry)
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
	for i, it := range p.Items() {
		s := planStep{Leads: switching.At(p, i+1), facts: switching.Facts(p, i+1)}
		switch c := it.Check; {
		case it.Hold != nil:
			s.Hold, s.Title, s.Act, s.Needs = it.Hold.ID, it.Hold.Action, it.Hold.Act, it.Hold.Needs
		case it.Step != nil:
			s.Step, s.Title, s.Act = it.Step.ID, it.Step.Action, it.Step.Act
		default:
			s.Check, s.Kind, s.Title, s.At = c.ID, c.Kind.Name, c.Title, c.At
			if c.Kind.Predict != nil {
				s.Expects = c.Kind.Predict(p, c)
			}
		}
		out = append(out, s)
	}
	return out
}

func printSteps(w io.Writer, steps []planStep) error {
	for i, s := range steps {
		switch {
		case s.Hold != "":
			fmt.Fprintf(w, "%2d  HOLD %s: %s\n", i+1, s.Hold, s.Title)
			if len(s.Needs) > 0 {
				fmt.Fprintf(w, "      needs %s\n", strings.Join(s.Needs, ", "))
			}
		case s.Step != "":
			fmt.Fprintf(w, "%2d  step %s: %s\n", i+1, s.Step, s.Title)
		default:
			fmt.Fprintf(w, "%2d  %s (%s): %s\n", i+1, s.Check, s.Kind, session.Place(s.Title, s.At))
		}
		if err := printExpected(w, s.Expects); err != nil {
			return err
		}
		for _, fact := range s.facts {
			fmt.Fprintf(w, "      > %s\n", strings.TrimSpace(session.Wrapped(fact, "        ", factWidth)))
		}
	}
	return nil
}

// factWidth is how wide what the dry run says is printed.
const factWidth = 96

func printExpected(w io.Writer, list []plan.Prediction) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, e := range list {
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
	return tw.Flush()
}

// dryRun is what the dry run of a plan comes to, nil without a network.
func dryRun(p *plan.Plan) *dryReport {
	run := p.Played()
	if run == nil {
		return nil
	}
	out := &dryReport{Words: switching.Summary(p), Refused: run.Refused(), Parallels: []network.Parallel{}, Left: []network.Leftover{}, End: run.End}
	out.Parallels, out.Left = append(out.Parallels, run.Parallels...), append(out.Left, run.Left...)
	out.begins, out.left = switching.Beginning(p), switching.Left(p)
	return out
}

func printDryRun(w io.Writer, d *dryReport) {
	if d == nil {
		return
	}
	fmt.Fprintln(w)
	for _, words := range append(d.begins, append(d.left, d.Words)...) {
		fmt.Fprintln(w, words)
	}
}
