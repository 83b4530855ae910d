package network

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// drawn is a random plant in a random state: a tree of devices with some closed to rings, earths, supplies and a capacitor.
func drawn(r *rapid.T) (*Plant, State, Memory) {
	n := Network{}
	pick := func(label string, top int) int { return rapid.IntRange(0, top).Draw(r, label) }
	size := 3 + pick("nodes", 5)
	zones, low := []int{0}, []bool{false}
	for i := range size {
		id := fmt.Sprint("n", i)
		d := Device{ID: fmt.Sprint("d", i), Kind: kinds[pick("kind", 5)]}
		if i > 0 {
			from := pick("from", i-1)
			zone := zones[from]
			if !low[zone] && pick("transformer", 3) == 0 {
				d.Kind, zone, low = Transformer, len(low), append(low, true)
			}
			zones = append(zones, zone)
			d.Between = []string{fmt.Sprint("n", from), id}
			n.Devices = append(n.Devices, d)
		}
		n.Nodes = append(n.Nodes, Node{ID: id, Low: low[zones[i]]})
	}
	for i := range pick("rings", 3) {
		a, b := pick("a", size-1), pick("b", size-1)
		if a != b && low[zones[a]] == low[zones[b]] {
			n.Devices = append(n.Devices, Device{ID: fmt.Sprint("r", i), Kind: kinds[pick("kind", 5)], Between: []string{n.Nodes[a].ID, n.Nodes[b].ID}})
		}
	}
	for i := range 1 + pick("earths", 3) {
		n.Devices = append(n.Devices, Device{ID: fmt.Sprint("e", i), Kind: EarthSwitch, Between: []string{n.Nodes[pick("at", size-1)].ID}})
	}
	for i := range 1 + pick("supplies", 2) {
		n.Sources = append(n.Sources, Source{ID: fmt.Sprint("s", i), At: n.Nodes[pick("at", size-1)].ID})
	}
	n.Sources = append(n.Sources, Source{ID: "c", Kind: Capacitor, At: n.Nodes[pick("at", size-1)].ID})
	for i := range n.Devices {
		n.Devices[i].Normal = drawnStanding(r, n.Devices[i])
	}
	p := layOut(n)
	s, m := p.Start()
	return p, s, m
}

func drawnStanding(r *rapid.T, d Device) Standing {
	s := Standing{Pos: rapid.SampledFrom([]Position{Open, Open, Closed, Unknown}).Draw(r, "pos"), Place: Service}
	if d.transformer() {
		return Standing{Pos: Closed}
	}
	if d.withdraws() && s.open() {
		s.Place = rapid.SampledFrom([]Place{Service, Test, Withdrawn}).Draw(r, "place")
	}
	if !s.unknown() && rapid.Bool().Draw(r, "locked") {
		s.Locks = []string{"1"}
	}
	return s
}

// drawnStep is any act on a thing of the plant that can take it, sensible or not.
func drawnStep(r *rapid.T, p *Plant) Step {
	acts := append(slices.Clone(moves), ActLock, ActUnlock, ActPhased, ActProveDead, ActDischarge, ActIssue, ActIssue, ActIssue, ActIssue, ActClear, ActCancel)
	some := func(label string, n int) int { return rapid.IntRange(0, n-1).Draw(r, label) }
	act := rapid.SampledFrom(acts).Draw(r, "act")
	fit := slices.DeleteFunc(slices.Clone(p.net.Devices), func(d Device) bool { return !d.Can(act) })
	if len(fit) == 0 {
		fit = p.net.Devices
	}
	return Step{
		Act: act, Device: fit[some("device", len(fit))].ID, Node: p.net.Nodes[some("node", len(p.net.Nodes))].ID,
		Source: p.net.Sources[some("source", len(p.net.Sources))].ID, Lock: "1", Document: fmt.Sprint("D", some("document", 2)),
		Type: []DocumentType{Permit, TestSanction}[some("type", 2)], Nodes: []string{p.net.Nodes[some("over", len(p.net.Nodes))].ID},
	}
}

// What a view says hangs together, in every state that steps lead to, and a refused step changes nothing. At the end of a permit's issue its
// nodes are safe.
func TestAttempt_properties(t *testing.T) {
	accepted, issued := 0, 0
	rapid.Check(t, func(r *rapid.T) {
		p, s, m := drawn(r)
		var cure []Step // of the last step refused, and that step again
		for range rapid.IntRange(1, 40).Draw(r, "steps") {
			step := drawnStep(r, p)
			curing := len(cure) > 0
			if curing {
				step, cure = cure[0], cure[1:]
			}
			s0, m0 := clone(s), m.clone()
			o := p.Attempt(s, m, step)
			if d := cmp.Diff(s0, s) + cmp.Diff(m0, m); d != "" {
				r.Fatalf("%+v wrote to its arguments\n%s", step, d)
			}
			if len(o.Refused) > 0 {
				if d := cmp.Diff(s, o.State) + cmp.Diff(m, o.Memory) + cmp.Diff(o.Before, o.After); d != "" {
					r.Fatalf("%+v was refused and changed\n%s", step, d)
				}
				if !curing {
					cure = append(cures(o.Refused), step)
				}
				continue
			}
			accepted++
			if step.Act == ActIssue {
				issued++
			}
			s, m = o.State, o.Memory
			if d := cmp.Diff(p.Look(s, m, 0), o.After); d != "" {
				r.Fatalf("%+v leaves (a look -, the outcome +)\n%s", step, d)
			}
			hangsTogether(r, o.After)
			for id, doc := range m.Documents {
				for _, name := range doc.Nodes {
					if n := o.After.Node(name); len(n.MayLive) > 0 || !n.Secured || doc.Type == Permit && !p.net.Nodes[p.node[name]].Low && len(n.Earths) == 0 {
						r.Fatalf("%s holds over %+v", id, n)
					}
				}
			}
		}
	})
	least := 100
	if testing.Short() { // a fifth of the plants
		least = 20
	}
	if accepted < least || issued == 0 && !testing.Short() {
		t.Errorf("%d steps were accepted and %d documents issued: too few to tell", accepted, issued)
	}
}

// cures are the steps that the refusals name, each once.
func cures(list []Refusal) []Step {
	var out []Step
	for _, r := range list {
		for _, c := range r.Cure {
			c.Lock = "1"
			if !slices.ContainsFunc(out, func(s Step) bool { return cmp.Equal(s, c) }) {
				out = append(out, c)
			}
		}
	}
	return out
}

func clone(s State) State {
	out := State{}
	for id, x := range s {
		x.Locks = slices.Clone(x.Locks)
		out[id] = x
	}
	return out
}

func hangsTogether(r *rapid.T, v View) {
	for _, n := range v.Nodes {
		switch {
		case !within(n.Supply, n.Live), !within(n.Live, n.MayLive):
			r.Fatalf("%+v: supply in live in may be live", n)
		case n.Secured && !n.Isolated:
			r.Fatalf("%+v: secured and not isolated", n)
		case n.Isolated && len(n.Supply) > 0:
			r.Fatalf("%+v: isolated and fed", n)
		case len(n.Earths) > 0 && !n.MayEarthed:
			r.Fatalf("%+v: earthed and not perhaps", n)
		case !n.Secured && len(n.Points) > 0, !n.Isolated && len(n.Gaps) > 0:
			r.Fatalf("%+v: points without what they are points of", n)
		case n.Proved && len(n.MayLive) > 0:
			r.Fatalf("%+v: proved dead and perhaps live", n)
		}
	}
}

func within(a, b []string) bool {
	return !slices.ContainsFunc(a, func(x string) bool { return !slices.Contains(b, x) })
}

// An unknown position in place of a known one never makes anything safer: nothing stops to be live, becomes isolated, secured or earthed, and no act
// that asks for safe plant is accepted that was refused.
func TestUnknown_is_never_safer(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		p, s, m := drawn(r)
		d := rapid.SampledFrom(p.net.Devices).Draw(r, "forgotten")
		if d.transformer() {
			return
		}
		forgot := s[d.ID]
		forgot.Pos = Unknown
		less := s.with(d.ID, forgot)
		known, unknown := p.Look(s, m, 0), p.Look(less, m, 0)
		for i, n := range unknown.Nodes {
			was := known.Nodes[i]
			switch {
			case !within(was.MayLive, n.MayLive), n.Isolated && !was.Isolated, n.Secured && !was.Secured, was.MayEarthed && !n.MayEarthed,
				!within(n.Earths, was.Earths), !within(n.Supply, was.Supply):
				r.Fatalf("with %s unknown %+v, before %+v", d.ID, n, was)
			}
		}
		step := drawnStep(r, p)
		if !slices.Contains([]Act{ActEarthOn, ActProveDead, ActDischarge, ActIssue, ActPhased}, step.Act) || step.Device == d.ID {
			return
		}
		if a, b := p.Attempt(s, m, step), p.Attempt(less, m, step); len(a.Refused) > 0 && len(b.Refused) == 0 {
			r.Fatalf("with %s unknown %+v is accepted, before refused by %v", d.ID, step, rules(a.Refused))
		}
	})
}
