package switching

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/checks/network"
	"handback/checks/plan"
	"handback/report"
)

// At is what the dry run leads to at an item of a plan, by its number from 1; nil where
// the item changes nothing of the network or there is none.
func At(p *plan.Plan, number int) *network.Line {
	run := p.Played()
	if run == nil {
		return nil
	}
	if i := slices.IndexFunc(run.Lines, func(l network.Line) bool { return l.Step == number }); i >= 0 {
		return &run.Lines[i]
	}
	return nil
}

// Facts tell what the dry run leads to at an item of a plan: refusals first, then what
// goes dark or becomes live, what is isolated and secured by what, what could become
// live and over what, and what stands in parallel from there on.
func Facts(p *plan.Plan, number int) []string {
	l := At(p, number)
	if l == nil {
		return nil
	}
	var out []string
	say := func(code string, values map[string]any) { out = append(out, report.PlantWords(code, values)) }
	for _, r := range l.Refused {
		say("dry.refused", breach(p, r))
	}
	if len(l.Refused) > 0 {
		if late := cures(p, number, l.Refused); late != "" {
			say("dry.late", map[string]any{"steps": late})
		}
		say("dry.not-done", nil)
	}
	for _, r := range l.Overridden {
		say("dry.overridden", breach(p, r))
	}
	if len(l.Lost) > 0 {
		say("dry.dark", map[string]any{"nodes": report.NamesOf(p, l.Lost), "loads": report.And(l.Loads)})
	}
	if len(l.Back) > 0 {
		say("dry.live", map[string]any{"nodes": report.NamesOf(p, l.Back)})
	}
	for _, c := range l.Isolated {
		say("dry.isolated", cut(p, c))
	}
	for _, c := range l.Secured {
		say("dry.secured", cut(p, c))
	}
	if len(l.NotIsolated) > 0 {
		say("dry.not-isolated", map[string]any{"nodes": report.NamesOf(p, l.NotIsolated)})
	}
	for _, f := range l.Feeds {
		say("dry.feed", report.FeedValues(p, f))
	}
	if len(l.BackFed) > 0 {
		say("dry.back-fed", map[string]any{"transformers": report.NamesOf(p, l.BackFed)})
	}
	return append(out, parallels(p, number)...)
}

// Beginning tells what stands in parallel before the first step.
func Beginning(p *plan.Plan) []string {
	if p.Played() == nil {
		return nil
	}
	return parallels(p, 0)
}

// Left tells what is left over after the last step and not as the plan says.
func Left(p *plan.Plan) []string {
	run := p.Played()
	if run == nil {
		return nil
	}
	var out []string
	for _, l := range run.Left {
		values := map[string]any{"id": p.Network.Named(l.ID), "is": standing(p, l, l.Is), "want": standing(p, l, l.Want)}
		out = append(out, report.PlantWords("left."+string(l.What), values))
	}
	return out
}

// Summary counts what the dry run came to; "" for a plan without a network.
func Summary(p *plan.Plan) string {
	run := p.Played()
	if run == nil {
		return ""
	}
	refused, overridden, first := 0, 0, ""
	for _, l := range run.Lines {
		if len(l.Refused) > 0 {
			if refused++; refused == 1 {
				first = named(p, l.Step)
			}
		}
		if len(l.Overridden) > 0 {
			overridden++
		}
	}
	return report.PlantWords("dry.summary", map[string]any{"steps": report.Count(len(run.Lines), "step", "steps"), "refused": refused, "first": first, "overridden": overridden, "left": len(run.Left)})
}

// Clean tells whether the dry run refuses nothing and leaves nothing over. A plan without
// a network has none, and nothing speaks against it.
func Clean(p *plan.Plan) bool {
	run := p.Played()
	return run == nil || !run.Refused() && len(run.Left) == 0
}

func breach(p *plan.Plan, r network.Refusal) map[string]any {
	return map[string]any{"rule": string(r.Rule), "words": report.RefusalWords(p, r), "source": report.RuleSource(r.Rule)}
}

// cures are the items below one that would have cured its refusals, had they come first.
func cures(p *plan.Plan, number int, refused []network.Refusal) string {
	var out []string
	for i, it := range p.Items()[number:] {
		m, ok := it.Moves()
		same := func(c network.Step) bool {
			return c.Act == m.Act && c.Device == m.Device && c.Node == m.Node && c.Source == m.Source && c.Document == m.Document && c.Key == m.Key
		}
		if ok && slices.ContainsFunc(refused, func(r network.Refusal) bool { return slices.ContainsFunc(r.Cure, same) }) {
			out = append(out, named(p, number+i+1))
		}
	}
	return report.And(out)
}

// named is an item by its number and id.
func named(p *plan.Plan, number int) string {
	return fmt.Sprintf("%d (%s)", number, p.Items()[number-1].ID())
}

func cut(p *plan.Plan, c network.Cut) map[string]any {
	return map[string]any{"nodes": report.NamesOf(p, c.Nodes), "by": report.NamesOf(p, c.By)}
}

// standing is what a leftover is or was to be, in words.
func standing(p *plan.Plan, l network.Leftover, list []string) string {
	switch l.What {
	case network.LeftPosition:
		return report.PositionWords(p.Network.Device(l.ID).Kind, network.Position(strings.Join(list, "")))
	case network.LeftPlace:
		return report.PlaceWords(network.Place(strings.Join(list, "")))
	case network.LeftKey:
		if slices.Equal(list, []string{network.InHand}) {
			return ""
		}
		return report.NamesOf(p, list)
	}
	return report.And(list)
}

// parallels are the groups that stand in parallel from an item on.
func parallels(p *plan.Plan, from int) []string {
	var out []string
	for _, x := range p.Played().Parallels {
		if x.From != from {
			continue
		}
		values := map[string]any{"names": report.NamesOf(p, slices.Concat(x.Supplies, x.Transformers)), "step": "", "lasts": ""}
		if x.To > 0 {
			values["step"] = named(p, x.To)
		}
		if x.Timed {
			values["lasts"] = minutes(x.Lasts)
		}
		out = append(out, report.PlantWords("dry.parallel", values))
	}
	return out
}

func minutes(d time.Duration) string { return strconv.FormatFloat(d.Minutes(), 'g', 4, 64) + " min" }
