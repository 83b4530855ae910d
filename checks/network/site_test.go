package network

import (
	"slices"
	"testing"
	"time"
)

// site is a plant being worked on in a test.
type site struct {
	t   *testing.T
	p   *Plant
	s   State
	m   Memory
	now time.Duration
}

func at(t *testing.T, n Network) *site {
	t.Helper()
	p, found := New(n)
	if len(found) > 0 {
		t.Fatalf("no plant: %v", found)
	}
	s, m := p.Start()
	return &site{t: t, p: p, s: s, m: m}
}

// try judges a step and keeps what it leaves.
func (x *site) try(step Step) Outcome {
	step.At = x.now
	o := x.p.Attempt(x.s, x.m, step)
	x.s, x.m = o.State, o.Memory
	return o
}

// do takes steps that must be accepted.
func (x *site) do(steps ...Step) {
	x.t.Helper()
	for _, s := range steps {
		if o := x.try(s); len(o.Refused) > 0 {
			x.t.Fatalf("%s %s%s%s refused: %+v", s.Act, s.Device, s.Node, s.Document, o.Refused)
		}
	}
}

// refuse takes a step that must be refused by these rules and no others.
func (x *site) refuse(step Step, want ...Rule) []Refusal {
	x.t.Helper()
	o := x.try(step)
	slices.Sort(want)
	if got := rules(o.Refused); !slices.Equal(got, want) {
		x.t.Fatalf("%s %s%s%s: refused by %v, want %v", step.Act, step.Device, step.Node, step.Document, got, want)
	}
	return o.Refused
}

func (x *site) look() View { return x.p.Look(x.s, x.m, x.now) }

func (x *site) node(id string) NodeView { return x.look().Node(id) }

func open(d string) Step     { return Step{Act: ActOpen, Device: d} }
func shut(d string) Step     { return Step{Act: ActClose, Device: d} }
func withdraw(d string) Step { return Step{Act: ActWithdraw, Device: d} }
func rackIn(d string) Step   { return Step{Act: ActService, Device: d} }
func earthOn(d string) Step  { return Step{Act: ActEarthOn, Device: d} }
func earthOff(d string) Step { return Step{Act: ActEarthOff, Device: d} }
func prove(n string) Step    { return Step{Act: ActProveDead, Node: n} }
func phase(d string) Step    { return Step{Act: ActPhased, Device: d} }
func clear(doc string) Step  { return Step{Act: ActClear, Document: doc} }
func cancel(doc string) Step { return Step{Act: ActCancel, Document: doc} }

func found(d string, pos Position) Step {
	return Step{Act: ActFound, Device: d, Found: &Standing{Pos: pos}}
}

func lock(d, number string) Step   { return Step{Act: ActLock, Device: d, Lock: number} }
func unlock(d, number string) Step { return Step{Act: ActUnlock, Device: d, Lock: number} }

func issue(doc string, kind DocumentType, nodes ...string) Step {
	return Step{Act: ActIssue, Document: doc, Type: kind, Nodes: nodes}
}

// t2Off takes transformer T2 off and secures both its sides: q2h open, q2l withdrawn, a lock on each.
func (x *site) t2Off() {
	x.t.Helper()
	x.do(open("q2l"), open("q2h"), withdraw("q2l"), lock("q2h", "1"), lock("q2l", "2"))
}

// t2Earthed proves and earths both sides of it too.
func (x *site) t2Earthed() {
	x.t.Helper()
	x.t2Off()
	x.do(prove("t2h"), earthOn("e2h"), prove("t2l"), earthOn("p2l"))
}
