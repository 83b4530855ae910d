package plan

import (
	"strings"
	"testing"
	"time"

	"handback/checks/network"
)

// A board section fed over one breaker, worked on dead: an invented piece of plant.
const stepText = `handback: 1
id: section-b
title: Section B
site: Pump house
work: Joints remade
people: [{id: mira, name: Mira, role: technician}]
instruments:
  - {id: det, name: two-pole voltage detector, serial: D1, due: 2030-01-01, category: IV, rated_from: 12 V, rated_to: 1000 V}
  - {id: unit, name: proving unit, serial: P1, due: 2030-01-01, sort: proving unit}
network:
  drawing: 4-11 C
  nodes:
    - {id: bar-a, name: section A, low: yes}
    - {id: bar-b, name: section B, low: yes, load: pumps 3 and 4}
  sources: [{id: feed, at: bar-a}]
  devices:
    - {id: tie, name: the coupler, kind: coupler, between: [bar-a, bar-b], position: closed}
    - {id: e1, name: E1 on section B, kind: portable-earth, between: [bar-b], position: open}
  interlocks: [{device: e1, act: earth-on, needs: {device: tie, place: withdrawn}}]
  keys: [{id: K1, home: tie, free: [{device: tie, place: withdrawn}]}]
  proved_for: 20 min
  end: [{device: tie, position: open, place: withdrawn, locks: [L1]}]
steps:
  - {step: open, act: open, device: tie, drops: [pumps 3 and 4], planned: 5 min}
  - {step: out, act: withdraw, device: tie, confirm: yes, section: "4.2"}
  - {step: lock, act: lock, device: tie, lock: L1}
  - {step: pumps, action: Tell the control room that pumps 3 and 4 stand still}
  - {check: dead, kind: prove-dead, node: bar-b, given: {source: unit, system_voltage: 400 V, neutral: yes, tester: det}}
  - {hold: earth, act: earth-on, device: e1}
`

func stepPlan(t *testing.T, old, now string) (*Plan, error) {
	t.Helper()
	text := strings.Replace(stepText, old, now, 1)
	if text == stepText && old != now {
		t.Fatalf("%q is not in the plan", old)
	}
	return Load("plan.yaml", []byte(text))
}

func TestLoad_steps(t *testing.T) {
	p, err := stepPlan(t, "", "")
	if err != nil {
		t.Fatal(err)
	}
	open := p.Step("open")
	m, ok := open.Moves()
	if want := 5 * time.Minute; !ok || m.Act != network.ActOpen || m.Device != "tie" || m.At != want || !m.Timed || len(m.Drops) != 1 {
		t.Errorf("moves %+v", m)
	}
	if open.Action != "Open the coupler" || p.Step("lock").Action != "Lock the coupler with lock L1" || p.Hold("earth").Action != "Apply earth E1 on section B" {
		t.Errorf("words %q, %q, %q", open.Action, p.Step("lock").Action, p.Hold("earth").Action)
	}
	if _, ok := p.Step("pumps").Moves(); ok {
		t.Error("a step in words moves something")
	}
	if m, ok := p.Check("dead").Finds(); !ok || m.Act != network.ActProveDead || m.Node != "bar-b" {
		t.Errorf("finds %+v", m)
	}
	if !p.Step("out").Confirm || p.Step("out").Section != "4.2" || len(p.Hold("earth").Needs) != 1 {
		t.Errorf("step %+v, hold %+v", p.Step("out"), p.Hold("earth"))
	}
	if end := p.Ends()["tie"]; end.Pos != network.Open || end.Place != network.Withdrawn || len(end.Locks) != 1 {
		t.Errorf("end %+v", end)
	}
	s, _ := p.Grid().Start()
	if is := s["tie"]; is.Pos != network.Closed || is.Place != network.Service {
		t.Errorf("start %+v", is)
	}
	if life := p.Grid().Network().Life; life.Proved != 20*time.Minute || life.Phased != 0 {
		t.Errorf("life %+v", life)
	}
}

// One mistake a row, and the words that name its place, what is met and what is accepted.
var stepProblems = []struct{ name, old, now, says string }{
	{"unknown device of a step", "act: open, device: tie,", "act: open, device: tei,", `steps[1].device: no device "tei" in the network: accepted here are tie, e1`},
	{"unknown node of a check", "node: bar-b, given", "node: bar-c, given", `steps[5].node: no node "bar-c" in the network: did you mean bar-`},
	{"node of a check that proves nothing", "kind: prove-dead, node: bar-b, given: {source: unit, system_voltage: 400 V, neutral: yes, tester: det}", "kind: rotation, node: bar-b, given: {expected: forward}", "proves nothing dead"},
	{"device of a check that joins nothing", "prove-dead, node: bar-b", "prove-dead, device: tie", "steps[5].device: check dead (prove-dead) does not show the phases across a device to be the same"},
	{"device of a check of rotation, which rolled phases pass", "kind: prove-dead, node: bar-b, given: {source: unit, system_voltage: 400 V, neutral: yes, tester: det}", "kind: rotation, device: tie, given: {expected: forward}", "check dead (rotation) does not show the phases across a device to be the same"},
	{"unknown load", "drops: [pumps 3 and 4]", "drops: [pumps 5]", `steps[1].drops[1]: no drop "pumps 5" in the network`},
	{"act without its device", "act: withdraw, device: tie,", "act: withdraw,", "steps[2].device: missing: act withdraw needs it"},
	{"act without its lock", "act: lock, device: tie, lock: L1", "act: lock, device: tie", "steps[3].lock: missing: act lock needs it"},
	{"key that an act does not take", "act: open, device: tie, drops", "act: open, device: tie, lock: L1, drops", "steps[1].lock: act open takes no lock: it takes device"},
	{"unknown act", "act: open, device: tie, drops", "act: trip, device: tie, drops", `steps[1].act: "trip" is not one of open, close,`},
	{"rule that nobody overrides", `section: "4.2"`, "leave: [live_earth]", `steps[2].leave[1]: nobody may override "live_earth"`},
	{"a plain step that waits", `section: "4.2"`, "needs: [dead]", "steps[2]: needs: no key of a step such as out, which takes step, action, act,"},
	{"two in one", "step: pumps,", "step: pumps, hold: x,", "steps[4]: x and pumps: a step is a check, a hold or a plain step"},
	{"node of a plain step", `section: "4.2"`, "node: bar-b", "steps[2]: node: no key of a step such as out, which takes step, action, act,"},
	{"an id twice", "step: out", "step: open", `steps[2].step: "open" stands already`},
	{"unknown node of a device", "between: [bar-a, bar-b]", "between: [bar-a, bar-c]", `network.devices[1].between[2]: unknown node "bar-c": accepted is a node of the network`},
	{"position", "between: [bar-b], position: open", "between: [bar-b], position: open, place: withdrawn", "network.devices[2].place: withdrawn: accepted is service: it does not withdraw"},
	{"key that never comes home", "home: tie, free", "home: e1, free", "network.keys[1].home: e1: accepted is a device named in free"},
	{"end of no device", "end: [{device: tie,", "end: [{device: tei,", `network.end[1].device: no device "tei"`},
	{"end that says nothing", "end: [{device: tie, position: open, place: withdrawn, locks: [L1]}]", "end: [{device: tie}]", "network.end[1]: neither position nor place nor locks"},
	{"act of an interlock", "interlocks: [{device: e1, act: earth-on", "interlocks: [{device: e1, act: close", `network.interlocks[1].act: "close" on a device of kind portable-earth: accepted is an act that moves it`},
	{"no step in words or act", "action: Tell the control room that pumps 3 and 4 stand still", "note: x", "steps[4]: neither act nor action: say what step pumps does"},
}

func TestLoad_stepProblems(t *testing.T) {
	for _, x := range stepProblems {
		t.Run(x.name, func(t *testing.T) {
			_, err := stepPlan(t, x.old, x.now)
			if err == nil || !strings.Contains(err.Error(), x.says) {
				t.Errorf("problems\n%v\nwant one that says\n%s", err, x.says)
			}
		})
	}
}
