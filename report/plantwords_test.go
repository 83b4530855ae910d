package report_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/checks/network"
	"handback/checks/plan"
	"handback/report"
	cases "handback/testdata/network"
)

// wordsPlan is the T2 side of the invented pumping station.
const wordsPlan = `handback: 1
id: t2
title: T2
site: Pump house
work: Joints remade
people: [{id: mira, name: Mira, role: technician}]
network:
  nodes:
    - {id: f, name: feeder cable}
    - {id: t2h, name: T2 HV terminals}
    - {id: t2l, name: T2 LV terminals, low: yes}
    - {id: b, name: section B, low: yes, load: pumps 3 and 4}
    - {id: a, name: section A, low: yes}
  sources: [{id: f2, name: feeder 2, at: f}, {id: f1, name: feeder 1, at: a}]
  devices:
    - {id: q2h, name: T2 HV switch, kind: switch, between: [f, t2h], position: closed}
    - {id: T2, kind: transformer, between: [t2h, t2l]}
    - {id: q2l, name: T2 LV incomer, kind: breaker, between: [t2l, b], position: closed}
    - {id: qc, name: the coupler, kind: coupler, between: [a, b], position: open}
    - {id: e2h, name: E2, kind: earth-switch, between: [t2h], position: open}
    - {id: p, name: portable earth 7, kind: portable-earth, between: [t2l], position: open}
  keys: [{id: K2, home: q2l, free: [{device: q2l, place: withdrawn}]}]
steps:
  - {step: tell, action: Tell the control room}
`

// station is a plan played by hand: the words of what a step leads to.
type station struct {
	t *testing.T
	p *plan.Plan
	s network.State
	m network.Memory
}

func atStation(t *testing.T) *station {
	t.Helper()
	p, err := plan.Load("t2.yaml", []byte(wordsPlan))
	if err != nil {
		t.Fatal(err)
	}
	s, m := p.Grid().Start()
	return &station{t, p, s, m}
}

func (x *station) do(steps ...network.Step) {
	x.t.Helper()
	for _, s := range steps {
		if words := x.refused(s); len(words) > 0 {
			x.t.Fatalf("%s %s: %v", s.Act, s.Device, words)
		}
	}
}

func (x *station) refused(s network.Step) []string {
	o := x.p.Grid().Attempt(x.s, x.m, s)
	x.s, x.m = o.State, o.Memory
	var out []string
	for _, r := range o.Refused {
		out = append(out, report.RefusalWords(x.p, r))
	}
	return out
}

func act(a network.Act, device string) network.Step { return network.Step{Act: a, Device: device} }

// A refusal names what stands in the way, what cures it and who may override it: written by hand for T2 fed from
// feeder 2, with section B held up from section A over the closed coupler.
func TestRefusalWords(t *testing.T) {
	x := atStation(t)
	x.do(network.Step{Act: network.ActPhased, Device: "qc"}, act(network.ActClose, "qc"), act(network.ActOpen, "q2l"), act(network.ActOpen, "q2h"))
	got := x.refused(act(network.ActEarthOn, "e2h"))
	want := []string{
		"T2 LV incomer is not withdrawn: feeder 1 could feed T2 HV terminals backwards through T2; first withdraw T2 LV incomer and lock it. A person may override this with a reason, if the plan gives leave at the step (leave: not_isolated).",
		"No proof of dead is in force at T2 HV terminals: an earth goes on only where absence of voltage was just verified; first prove T2 HV terminals dead. A person may override this with a reason, by a built-in indicator shown live before and after, if the plan gives leave at the step (leave: not_proved).",
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("refusals (want -, got +)\n%s", d)
	}
	got = x.refused(act(network.ActEarthOn, "p"))
	if len(got) != 2 || !strings.HasPrefix(got[0], "T2 LV incomer is not withdrawn: feeder 1 could feed T2 LV terminals; first withdraw") {
		t.Errorf("refusals %q", got)
	}
	got = x.refused(act(network.ActOpen, "qc"))
	if len(got) != 1 || got[0] != "pumps 3 and 4 would go dark, and the step does not say so: say it in the plan (drops) if it is meant. Nobody may override this; a plan that is wrong is amended." {
		t.Errorf("refusals %q", got)
	}
	got = x.refused(act(network.ActClose, "nowhere"))
	if len(got) != 1 || !strings.HasPrefix(got[0], "There is no device nowhere in the network: ") {
		t.Errorf("refusals %q", got)
	}
}

// How the plant stands, a line a node and a device; dead never stands alone.
func TestStateLines(t *testing.T) {
	x := atStation(t)
	x.do(network.Step{Act: network.ActPhased, Device: "qc"}, act(network.ActClose, "qc"), act(network.ActOpen, "q2l"), act(network.ActOpen, "q2h"),
		act(network.ActWithdraw, "q2l"), network.Step{Act: network.ActLock, Device: "q2l", Lock: "L1"}, network.Step{Act: network.ActProveDead, Node: "t2h"})
	lines := func() []string { return report.StateLines(x.p, x.p.Grid().Look(x.s, x.m, 0), x.s, nil) }
	want := []string{
		"feeder cable: live from feeder 2",
		"T2 HV terminals: dead, proved, isolated by T2 HV switch and T2 LV incomer, not locked",
		"T2 LV terminals: dead, not proved, isolated by T2 HV switch and T2 LV incomer, not locked",
		"section B: live from feeder 1 (pumps 3 and 4)",
		"section A: live from feeder 1",
		"T2 HV switch: open",
		"T2 LV incomer: withdrawn, open, locked (L1)",
		"the coupler: in service, closed, live from feeder 1",
		"E2: off",
		"portable earth 7: off",
	}
	if d := cmp.Diff(want, lines()); d != "" {
		t.Errorf("state (want -, got +)\n%s", d)
	}
	x.do(network.Step{Act: network.ActLock, Device: "q2h", Lock: "L2"}, act(network.ActEarthOn, "e2h"))
	if got := lines()[1]; got != "T2 HV terminals: dead, proved, secured at T2 HV switch and T2 LV incomer, earthed by E2" {
		t.Errorf("%q", got)
	}
	x.do(network.Step{Act: network.ActFound, Device: "q2h", Found: &network.Standing{}})
	if got := lines(); got[1] != "T2 HV terminals: not known: may be live from feeder 2, earthed by E2" || got[5] != "T2 HV switch: position not known" {
		t.Errorf("%q", got)
	}
}

var rulesOf = regexp.MustCompile(`^([a-z_]+(?:, [a-z_]+)*)(?::|$)`)

// breaches are the ways in which each rule can be broken, as the comments beside the constants of network say.
func breaches(t *testing.T) []string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "../checks/network/refusal.go", nil, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	rules, ways := []string{}, map[string][]string{}
	ast.Inspect(file, func(n ast.Node) bool {
		v, ok := n.(*ast.ValueSpec)
		if !ok || len(v.Values) != 1 || v.Comment == nil {
			return true
		}
		lit, ok := v.Values[0].(*ast.BasicLit)
		if !ok {
			return true
		}
		value, err := strconv.Unquote(lit.Value)
		if err != nil {
			t.Fatal(err)
		}
		switch {
		case strings.HasPrefix(v.Names[0].Name, "Rule"):
			rules = append(rules, value)
		case strings.HasPrefix(v.Names[0].Name, "Why"):
			for part := range strings.SplitSeq(strings.TrimSpace(v.Comment.Text()), "; ") {
				if m := rulesOf.FindStringSubmatch(part); m != nil {
					for rule := range strings.SplitSeq(m[1], ", ") {
						ways[rule] = append(ways[rule], rule+"."+value)
					}
				}
			}
		}
		return true
	})
	var out []string
	for _, r := range rules {
		if len(ways[r]) == 0 || r == "not_proved" { // which is broken in one way more than it has names for
			out = append(out, r)
		}
		out = append(out, ways[r]...)
		delete(ways, r)
	}
	if len(rules) != 17 || len(out) < 30 || len(ways) > 0 {
		t.Fatalf("%d rules, %d ways, %v of no rule: the comments are written otherwise now", len(rules), len(out), ways)
	}
	return out
}

// Every way to break a rule has words with nothing missing in them, every rule a source, and no words are left over.
func TestRefusalWords_every_way(t *testing.T) {
	p := atStation(t).p
	text, err := os.ReadFile("../templates/plant/refused.tmpl")
	if err != nil {
		t.Fatal(err)
	}
	var written []string
	for _, m := range regexp.MustCompile(`\{\{define "([^"]+)"`).FindAllStringSubmatch(string(text), -1) {
		head, _, _ := strings.Cut(m[1], ".")
		if !slices.Contains([]string{"feeds", "feed", "refusal", "authority", "source"}, head) {
			written = append(written, m[1])
		}
	}
	all := breaches(t)
	if d := cmp.Diff(slices.Sorted(slices.Values(all)), slices.Sorted(slices.Values(written))); d != "" {
		t.Errorf("ways to break a rule -, words +\n%s", d)
	}
	for _, way := range all {
		rule, why, _ := strings.Cut(way, ".")
		for _, who := range []network.Authority{network.Never, network.Amend, network.Person, network.PlanWord, network.InControl, network.Indicator} {
			r := network.Refusal{Rule: network.Rule(rule), Why: network.Why(why), Device: "q2l", Nodes: []string{"t2h", "t2l"}, Sources: []string{"f2"},
				Devices: []string{"q2h"}, Locks: []string{"L1"}, Loads: []string{"pumps 3 and 4"}, Key: "K2", Document: "P1", Authority: who,
				Feeds: []network.Feed{{Node: "t2h", Device: "q2l", Sources: []string{"f1"}, Through: []string{"T2"}}},
				Cure:  []network.Step{act(network.ActOpen, "q2h")}}
			whole(t, way, report.RefusalWords(p, r))
			bare := network.Refusal{Rule: r.Rule, Why: r.Why, Device: "q2l", Nodes: r.Nodes, Sources: r.Sources, Devices: r.Devices,
				Locks: r.Locks, Loads: r.Loads, Key: r.Key, Document: r.Document, Authority: who}
			whole(t, way, report.RefusalWords(p, bare))
		}
		if s := report.RuleSource(network.Rule(rule)); strings.HasPrefix(s, "source.") || len(s) < 10 {
			t.Errorf("rule %s comes from %q", rule, s)
		}
	}
}

var broken = regexp.MustCompile(`  |no value|%!|[(] ?[)]| [,;.:]|\b(from|of|by|on|feed|at|is|first) ?[,;.:]|^[a-z_]+([.][a-z-]+)?$`)

// whole holds a sentence against what a missing name or code leaves behind.
func whole(t *testing.T, what, words string) {
	t.Helper()
	if words == "" || broken.MatchString(words) || strings.Contains(words, "act.") || strings.Contains(words, "authority.") {
		t.Errorf("%s is said as %q", what, words)
	}
}

// Whatever the steps of the generated cases break is said in whole sentences, and every state they lead to in whole lines.
func TestRefusalWords_cases(t *testing.T) {
	said := map[string]bool{}
	all, err := cases.Read("plant_cases.json.gz")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		text, err := c.Bare()
		if err != nil {
			t.Fatal(err)
		}
		p, err := plan.Load("case.yaml", text)
		if len(c.BeginFaults) > 0 {
			if err == nil || !strings.Contains(err.Error(), "and earthed at the start") {
				t.Errorf("begins live and earthed, and is read: %v", err)
			}
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		s, m := p.Grid().Start()
		for _, step := range c.Steps {
			o := p.Grid().Attempt(s, m, stepOf(step))
			s, m = o.State, o.Memory
			for _, r := range o.Refused {
				said[string(r.Rule)+" "+string(r.Why)] = true
				whole(t, string(r.Rule)+" "+string(r.Why), report.RefusalWords(p, r))
			}
			for _, line := range report.StateLines(p, o.After, s, nil) {
				whole(t, "state", line)
				if strings.HasSuffix(line, ": dead") || strings.Contains(line, "dead") && !strings.Contains(line, "proved") {
					t.Errorf("dead is said alone: %q", line)
				}
			}
		}
	}
	if len(said) < 20 {
		t.Errorf("%d ways to break a rule were met", len(said))
	}
}

// stepOf is a step of a case as package network takes it.
func stepOf(s cases.Step) network.Step {
	return network.Step{Act: network.Act(s.Act), Device: s.Device + s.From + s.To, Node: s.Node, Source: s.Source, Document: s.Document, Key: s.Key,
		Lock: s.Lock, Drops: s.Drops, Nodes: s.Nodes, Type: network.DocumentType(s.Type)}
}
