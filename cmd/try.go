package cmd

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

type tryOptions struct {
	env        *session.Env
	kind, file string
	json       bool
}

func newTry(env *session.Env) *cobra.Command {
	o := &tryOptions{env: env}
	c := &cobra.Command{
		Use: "try KIND FILE", Short: "judge one check without a job", Args: exactly("KIND", "FILE"),
		Long: `Judge one check from a file that holds its plant, instruments and readings, with
no job and nothing recorded. FILE - reads stdin. handback kinds KIND prints a file
to begin with. Exit status 3 when the verdict is other than pass.`,
		Example:   "  handback kinds lv-volts --example > volts.yaml\n  handback try lv-volts volts.yaml",
		ValidArgs: plan.KindNames(),
		RunE: func(c *cobra.Command, args []string) error {
			o.kind, o.file = args[0], args[1]
			return runTry(o)
		},
	}
	jsonFlag(c, &o.json)
	return c
}

func runTry(o *tryOptions) error {
	if checks.KindNamed(o.kind) == nil {
		return unknownKind(o.kind)
	}
	data, err := readInput(o.env, o.file, maxInput)
	if err != nil {
		return err
	}
	trial, err := plan.LoadTrial(o.file, data)
	if err != nil {
		return err
	}
	in, f, err := checks.JudgeTrial(trial)
	if err != nil {
		return fmt.Errorf("%s: %w", o.file, err)
	}
	if in.Check.Kind.Name != o.kind {
		return fmt.Errorf("%s: the last check is a %s, not a %s; type: handback try %s %s", o.file, in.Check.Kind.Name, o.kind, in.Check.Kind.Name, o.file)
	}
	if o.json {
		err = printJSON(o.env.Out, newFindingReport(in, f))
	} else {
		printTrial(o.env.Out, in, f)
	}
	if err == nil && f.Verdict != checks.Pass {
		return errNotReady
	}
	return err
}

// findingReport is a finding as JSON. Numbers that are not known are null.
type findingReport struct {
	Kind     string          `json:"kind"`
	Check    string          `json:"check"`
	Verdict  checks.Verdict  `json:"verdict"`
	Stop     *report.Stopped `json:"stop,omitempty"`
	Rule     string          `json:"rule"`
	Until    string          `json:"until,omitempty"`
	Reasons  []report.Reason `json:"reasons"`
	Doubts   []string        `json:"doubts"`
	Derived  []derivedReport `json:"derived"`
	Cautions []string        `json:"cautions"`
}

type derivedReport struct {
	Key         string       `json:"key"`
	Name        string       `json:"name"`
	Value       *float64     `json:"value"`
	Unit        string       `json:"unit"`
	Uncertainty *float64     `json:"uncertainty"`
	AtLeast     bool         `json:"at_least,omitempty"` // the uncertainty is only the part of it that is known
	Limit       *limitReport `json:"limit"`
	Rule        string       `json:"rule,omitempty"`
	ChanceOut   *float64     `json:"chance_out"`
	Verdict     string       `json:"verdict,omitempty"`
	Working     []string     `json:"working"`
	Since       *sinceReport `json:"since,omitempty"` // of a change from the baseline
}

// sinceReport is what a value was before.
type sinceReport struct {
	Key    string  `json:"key"` // of the value that changed
	Was    float64 `json:"was"`
	Unit   string  `json:"unit"`
	Source string  `json:"source"`
	Date   string  `json:"date"`
}

type limitReport struct {
	Low    *float64 `json:"low"`
	High   *float64 `json:"high"`
	Source string   `json:"source"`
}

func newFindingReport(in checks.Input, f checks.Finding) findingReport {
	said := report.NewJudged(in.Check.Kind, 0, f, "")
	r := findingReport{Kind: in.Check.Kind.Name, Check: in.Check.ID, Verdict: f.Verdict, Stop: said.Stop, Rule: f.Rule,
		Reasons: said.Reasons, Doubts: []string{}, Derived: []derivedReport{}, Cautions: cautions(in.Check.Kind, f)}
	if !f.Until.IsZero() {
		r.Until = f.Until.Format("2006-01-02T15:04:05Z07:00")
	}
	for _, d := range in.Doubts() {
		r.Doubts = append(r.Doubts, report.Words(in.Check.Kind, d.Said))
	}
	for _, d := range f.Derived {
		x := derivedReport{Key: d.Key, Name: d.Name, Value: known(d.Value), Unit: d.Unit, Uncertainty: known(d.U), AtLeast: d.Known == calc.KnownPart, Rule: d.Rule,
			ChanceOut: known(d.ChanceOut), Working: d.Working()}
		if d.Limit != nil {
			x.Limit = &limitReport{known(d.Limit.Low), known(d.Limit.High), d.Limit.Source}
			x.Verdict = d.Verdict.String()
		}
		if b := d.Since; b != nil {
			x.Since = &sinceReport{b.Key, b.Was, b.Unit, b.Source, b.Date.Format(time.DateOnly)}
		}
		r.Derived = append(r.Derived, x)
	}
	return r
}

// known is x, or nil where JSON has no word for it.
func known(x float64) *float64 {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return &x
}

// judgedBlind names the values judged without a guard band because the accuracy of
// none of their readings is known.
func judgedBlind(f checks.Finding) []string {
	var names []string
	for _, d := range f.Derived {
		if d.Limit != nil && d.Known == calc.KnownNot {
			names = append(names, d.Name)
		}
	}
	return names
}

func printTrial(w io.Writer, in checks.Input, f checks.Finding) {
	session.PrintFinding(w, in.Check.Kind, f, session.Everything)
	if names := judgedBlind(f); f.Rule != checks.RuleSimple && len(names) > 0 {
		fmt.Fprintf(w, "\nno accuracy is known, judged by the simple rule: %s\n", strings.Join(names, "; "))
	}
	fmt.Fprintln(w, "\nworking:")
	said := map[string]bool{} // a step that several values share is worked once
	for _, d := range f.Derived {
		for _, line := range d.Working() {
			if !said[line] {
				fmt.Fprintf(w, "  %s\n", line)
			}
			said[line] = true
		}
	}
	for _, c := range cautions(in.Check.Kind, f) {
		fmt.Fprintf(w, "\ncaution: %s\n", c)
	}
}

// cautions are those of a kind and of a finding.
func cautions(kind *plan.Traits, f checks.Finding) []string {
	out := slices.Clone(kind.Cautions)
	for _, c := range f.Cautions {
		out = append(out, report.Words(kind, c))
	}
	return out
}
