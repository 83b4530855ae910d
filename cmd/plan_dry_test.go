package cmd

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"handback/checks/network"
	cases "handback/testdata/network"
)

// The two schedules written by hand (testdata/network/README.md), as plans, through plan check: each step is refused by
// the rules that the hand names, and leads to what the reference says of the states before and after it.
func TestPlanCheck_schedules(t *testing.T) {
	all, err := cases.Read("schedules.json.gz")
	if err != nil || len(all) != 2 {
		t.Fatalf("%d schedules: %v", len(all), err)
	}
	for _, c := range all {
		t.Run(c.Name, func(t *testing.T) {
			text, err := c.Plan()
			if err != nil {
				t.Fatal(err)
			}
			got := checkedPlan(t, text)
			if len(got.Steps) != len(c.Steps) || len(c.Steps) < 40 {
				t.Fatalf("%d steps, the schedule has %d", len(got.Steps), len(c.Steps))
			}
			was := c.Begin
			for i, want := range c.Steps {
				l := got.Steps[i].Leads
				if l == nil {
					t.Fatalf("step %d leads to nothing", i+1)
				}
				if d := cmp.Diff(leads(i+1, want, was), told(*l), loose); d != "" {
					t.Errorf("step %d, %s %s (want -, got +)\n%s", i+1, want.Act, want.Device, d)
				}
				was = want.After
			}
			if d := cmp.Diff(together(c), got.Dry.Parallels, loose); d != "" {
				t.Errorf("in parallel (want -, got +)\n%s", d)
			}
			if len(c.Left) != len(got.Dry.Left) {
				t.Errorf("left over %v, the schedule %v", got.Dry.Left, c.Left)
			}
		})
	}
}

// checked is what plan check --json says of a dry run.
type checked struct {
	Steps []struct {
		Leads *network.Line `json:"leads_to"`
	}
	Dry struct {
		Refused   bool
		Parallels []network.Parallel
		Left      []network.Leftover
	} `json:"dry_run"`
}

// checkedPlan puts a plan through plan check, which must end with status 3.
func checkedPlan(t *testing.T, text []byte) (out checked) {
	t.Helper()
	status, stdout, stderr := planCommand(t, text, "plan", "check", "--json")
	if status != exitNotReady {
		t.Fatalf("plan check ends with %d: %s", status, stderr)
	}
	if err := json.Unmarshal([]byte(stdout), &out); err != nil {
		t.Fatal(err)
	}
	if !out.Dry.Refused {
		t.Error("steps are refused, and the dry run does not say so")
	}
	return out
}

var loose = cmp.Options{cmpopts.EquateEmpty(), cmpopts.SortSlices(strings.Compare),
	cmpopts.SortSlices(func(a, b network.Parallel) int { return strings.Compare(fmt.Sprint(a), fmt.Sprint(b)) })}

// outcome is what the reference can say of a step of a dry run.
type outcome struct {
	Step                             int
	Refused, Lost, Back, NotIsolated []string
	Secured                          []string // node and its points, of those newly secured or by other points
}

// leads is what a step leads to, by the states before and after it.
func leads(number int, s cases.Step, was *cases.State) outcome {
	out := outcome{Step: number, Refused: s.Refused}
	for node, supply := range s.After.Supply {
		before := was.Supply[node]
		switch {
		case len(before) > 0 && len(supply) == 0:
			out.Lost = append(out.Lost, node)
		case len(before) == 0 && len(supply) > 0:
			out.Back = append(out.Back, node)
		}
		if was.Isolated[node] && !s.After.Isolated[node] {
			out.NotIsolated = append(out.NotIsolated, node)
		}
		points := fmt.Sprint(slices.Sorted(slices.Values(s.After.Points[node])))
		if s.After.Secured[node] && !(was.Secured[node] && fmt.Sprint(slices.Sorted(slices.Values(was.Points[node]))) == points) {
			out.Secured = append(out.Secured, node+" at "+points)
		}
	}
	return out
}

// told is a line of a dry run in that form.
func told(l network.Line) outcome {
	out := outcome{Step: l.Step, Lost: l.Lost, Back: l.Back, NotIsolated: l.NotIsolated}
	for _, r := range l.Refused {
		if !slices.Contains(out.Refused, string(r.Rule)) {
			out.Refused = append(out.Refused, string(r.Rule))
		}
	}
	for _, c := range l.Secured {
		for _, node := range c.Nodes {
			out.Secured = append(out.Secured, node+" at "+fmt.Sprint(slices.Sorted(slices.Values(c.By))))
		}
	}
	return out
}

// together are the groups in parallel from step to step.
func together(c cases.Case) []network.Parallel {
	var out []network.Parallel
	groups := func(s *cases.State) (list []network.Parallel) {
		for _, g := range s.Parallel {
			list = append(list, network.Parallel{Supplies: g})
		}
		for _, g := range s.Loops {
			list = append(list, network.Parallel{Transformers: g})
		}
		return list
	}
	has := func(list []network.Parallel, g network.Parallel) bool {
		return slices.ContainsFunc(list, func(x network.Parallel) bool {
			return slices.Equal(x.Supplies, g.Supplies) && slices.Equal(x.Transformers, g.Transformers)
		})
	}
	was := groups(c.Begin)
	out = append(out, was...)
	for i, s := range c.Steps {
		is := groups(s.After)
		for k, g := range out {
			if g.To == 0 && !has(is, g) {
				out[k].To = i + 1
				if g.From > 0 {
					out[k].Timed, out[k].Lasts = true, time.Duration(s.At-c.Steps[g.From-1].At)*time.Minute
				}
			}
		}
		for _, g := range is {
			if !has(was, g) {
				g.From = i + 1
				out = append(out, g)
			}
		}
		was = is
	}
	return out
}
