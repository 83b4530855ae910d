package walk

import (
	"context"
	"slices"
	"strings"

	"handback/checks/network"
	"handback/checks/plan"
	"handback/report"
)

// overrides reads what stands behind override: RULE WHY, once or more. What the rule asks
// for beside a reason is asked here: the person in control, or the indicator that stood
// for the proof of dead.
func (w *walker) overrides(ctx context.Context, st *plan.Step, said string) ([]network.Override, error) {
	var out []network.Override
	refused := w.Job.Refusals(st, report.Stepped{}, w.Env.Now())
	for _, part := range strings.Split(said, " override ") {
		rule, why, _ := strings.Cut(strings.TrimSpace(part), " ")
		o := network.Override{Rule: network.Rule(rule), Person: w.By, Reason: strings.TrimSpace(why)}
		i := slices.IndexFunc(refused, func(r network.Refusal) bool { return r.Rule == o.Rule })
		if i >= 0 && slices.Contains(st.Leave, o.Rule) && o.Reason != "" {
			if err := w.authority(ctx, refused[i].Authority, &o); err != nil {
				return nil, err
			}
		}
		out = append(out, o)
	}
	return out, nil
}

// authority asks for what lets a person override a rule.
func (w *walker) authority(ctx context.Context, a network.Authority, o *network.Override) error {
	switch a {
	case network.InControl:
		who, err := w.in.Prompt(ctx, "  who in control takes it upon them: ")
		if err != nil || who == "" {
			return err
		}
		o.Person, o.InControl = who, true
	case network.Indicator:
		which, err := w.in.Prompt(ctx, "  the built-in indicator that stands for the proof of dead: ")
		if err != nil {
			return err
		}
		o.Indicator = which
		for _, x := range []struct {
			shown *bool
			when  string
		}{{&o.LiveBefore, "before, on plant known to be live"}, {&o.LiveAfter, "again after"}} {
			typed, err := w.in.Prompt(ctx, "  it showed live "+x.when+" [y/n]: ")
			if err != nil {
				return err
			}
			*x.shown = slices.Contains([]string{"y", "yes"}, strings.ToLower(typed))
		}
	}
	return nil
}
