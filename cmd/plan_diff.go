package cmd

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"handback/checks/plan"
	"handback/cmd/session"
	"handback/report"
)

type planDiffOptions struct {
	env     *session.Env
	was, is string
	json    bool
}

func newPlanDiff(env *session.Env) *cobra.Command {
	o := &planDiffOptions{env: env}
	c := &cobra.Command{
		Use: "diff PLAN PLAN", Short: "say what one plan means otherwise than another", Args: exactly("PLAN", "PLAN"),
		Long: `Say what the second plan means otherwise than the first, item by item. Each is a plan
file, with all that it includes, or a job, whose plan in force is meant. Things are
compared by their ids, wherever and in whichever file they stand; comments, layout and
another way to write a value, such as 0.5 kV for 500 V, are no difference.

Exit status 0 when both mean the same, 1 when they differ; a plan that cannot be read is
an error, with nothing on stdout.`,
		Example:           "  handback plan diff plan.yaml plan-2.yaml\n  handback plan diff t2-return-1 plan.yaml --json",
		ValidArgsFunction: completeJobOrFile(env),
		RunE: func(c *cobra.Command, args []string) error {
			o.was, o.is = args[0], args[1]
			return runPlanDiff(c.Context(), o)
		},
	}
	jsonFlag(c, &o.json)
	return c
}

// errDiffers is told by its exit status; the answer on stdout has said so.
var errDiffers = errors.New("the plans differ")

// planDiff is the answer of plan diff.
type planDiff struct {
	Was         string       `json:"was"`
	Is          string       `json:"is"`
	Same        bool         `json:"same"`
	Differences []planChange `json:"differences"`
}

// planChange is one thing that differs; Was is empty for what was added, Is for what was
// taken out.
type planChange struct {
	Area  string `json:"area"`           // what it belongs to, such as instruments
	Item  string `json:"item,omitempty"` // id of the instrument, person, step or piece of plant
	Title string `json:"title,omitempty"`
	Key   string `json:"key,omitempty"`
	Was   string `json:"was,omitempty"`
	Is    string `json:"is,omitempty"`
}

func runPlanDiff(ctx context.Context, o *planDiffOptions) error {
	was, err := o.plan(ctx, o.was)
	if err != nil {
		return err
	}
	is, err := o.plan(ctx, o.is)
	if err != nil {
		return err
	}
	all := plan.Changes(was, is)
	answer := planDiff{Was: o.was, Is: o.is, Same: len(all) == 0, Differences: []planChange{}}
	for _, d := range all {
		answer.Differences = append(answer.Differences, changeOf(d, was, is))
	}
	slices.SortStableFunc(answer.Differences, func(a, b planChange) int {
		return cmp.Compare(slices.Index(planAreas, a.Area), slices.Index(planAreas, b.Area))
	})
	if o.json {
		err = printJSON(o.env.Out, answer)
	} else {
		answer.print(o.env.Out)
	}
	if err == nil && !answer.Same {
		err = errDiffers
	}
	return err
}

// plan is a plan file, or the plan in force of a job.
func (o *planDiffOptions) plan(ctx context.Context, name string) (*plan.Plan, error) {
	if _, err := os.Stat(name); err == nil || name == "-" || strings.ContainsAny(name, `./\`) {
		return loadPlan(o.env, name)
	}
	s, err := session.OpenRead(ctx, o.env, name)
	if err != nil {
		return nil, err
	}
	defer s.Close()
	return s.Job.Plan, nil
}

// planAreas are what differences are told under, in this order.
var planAreas = []string{"plan", "people", "instruments", "plant", "network", "procedures", "limits", "steps", "baseline", "imports"}

// changeOf tells where a difference belongs. What a check is given counts among limits:
// by it the check is judged.
func changeOf(d plan.Difference, was, is *plan.Plan) planChange {
	c := planChange{Area: "plan", Key: d.Path, Was: d.Was, Is: d.Is}
	list, rest, _ := strings.Cut(d.Path, "[")
	area, _, _ := strings.Cut(list, ".")
	if slices.Contains(planAreas, area) {
		c.Area, c.Key = area, strings.TrimPrefix(strings.TrimPrefix(d.Path, area), ".")
	}
	if rest == "" {
		return c
	}
	id, key, _ := strings.Cut(rest, "]")
	c.Item, c.Key = id, strings.TrimPrefix(key, ".")
	c.Title = cmp.Or(titleIn(is, c.Area, id), titleIn(was, c.Area, id))
	if given, ok := strings.CutPrefix(c.Key, "given."); ok && c.Area == "steps" {
		c.Area, c.Key = "limits", given
	}
	return c
}

// titleIn is what a thing is called in a plan, "" where it is not in it.
func titleIn(p *plan.Plan, area, id string) string {
	switch area {
	case "people":
		if q := p.Person(id); q != nil {
			return q.Name + ", " + q.Role
		}
	case "instruments":
		if m := p.Meter(id); m != nil {
			return m.Name + ", serial " + m.Serial
		}
	case "procedures":
		if m := p.ProcedureOf(id); m != nil {
			return m.Title
		}
	case "steps":
		if c := p.Check(id); c != nil {
			return c.Title
		}
		if s := p.Step(id); s != nil {
			return s.Action
		}
	}
	return ""
}

// areaWords head the differences of an area.
var areaWords = map[string]string{"plan": "the plan", "limits": "limits and other values that checks are given"}

func (a planDiff) print(w io.Writer) {
	if a.Same {
		fmt.Fprintf(w, "%s and %s mean the same\n", a.Was, a.Is)
		return
	}
	fmt.Fprintf(w, "%s and %s: %s\n", a.Was, a.Is, report.Count(len(a.Differences), "difference", "differences"))
	area := ""
	for _, c := range a.Differences {
		if c.Area != area {
			area = c.Area
			fmt.Fprintf(w, "\n%s\n", cmp.Or(areaWords[area], area))
		}
		fmt.Fprintf(w, "  %s\n", strings.TrimSpace(session.Wrapped(c.words(), "      ", factWidth)))
	}
}

func (c planChange) words() string {
	short := func(s string) string { return report.CutRunes(report.Flat(s), 200) }
	name := c.Item
	if c.Title != "" {
		name += " (" + report.Flat(c.Title) + ")"
	}
	if c.Key != "" {
		name = strings.TrimPrefix(name+": "+c.Key, ": ")
	}
	switch {
	case c.Item == "" && c.Key == "" && c.Was != "" && c.Is != "":
		return "moved: " + moved(strings.Split(c.Was, ", "), strings.Split(c.Is, ", "))
	case c.Was == "":
		return "new: " + name + ": " + short(c.Is)
	case c.Is == "" && c.Key == "" && c.Title != "":
		return "taken out: " + name
	case c.Is == "":
		return "taken out: " + name + ": " + short(c.Was)
	}
	return name + ": was " + short(c.Was) + ", is " + short(c.Is)
}

// moved tells which of some ids stand in another place: those left over when as many as
// can are left standing.
func moved(was, is []string) string {
	common := make([][]int, len(was)+1) // the longest order that the rests of both share
	for i := range common {
		common[i] = make([]int, len(is)+1)
	}
	for i := len(was) - 1; i >= 0; i-- {
		for j := len(is) - 1; j >= 0; j-- {
			common[i][j] = max(common[i+1][j], common[i][j+1])
			if was[i] == is[j] {
				common[i][j] = common[i+1][j+1] + 1
			}
		}
	}
	var out []string
	for i, j := 0, 0; j < len(is); {
		switch {
		case i < len(was) && was[i] == is[j]:
			i, j = i+1, j+1
		case i < len(was) && common[i+1][j] >= common[i][j+1]:
			i++
		case j == 0:
			out = append(out, is[j]+" now stands first")
			j++
		default:
			out = append(out, is[j]+" now stands behind "+is[j-1])
			j++
		}
	}
	return strings.Join(out, "; ")
}
