package network

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// theCase is one network with its steps, as the files in testdata/network hold it. Its README says where they come from.
type theCase struct {
	Name    string
	Seed    int
	Network struct {
		Nodes, Low []string
		Loads      map[string]string
		Sources    []Source
		Devices    []struct {
			ID        string
			Kind      Kind
			Between   []string
			Isolates  *bool
			Breaks    Break
			Withdraws *bool
			BackFeed  bool `json:"back_feed"`
		}
		Interlocks []Interlock
		Keys       []struct {
			ID, Home string
			Free     map[string]string
		}
		Life struct{ Proved, Phased int }
	}
	Start       map[string]Standing
	Begin       *seen
	BeginFaults []string `json:"begin_faults"`
	Steps       []caseStep
	Left        []string
}

// seen is what must follow from a state.
type seen struct {
	LiveFrom   map[string][]string `json:"live_from"`
	Supply     map[string][]string
	MayLive    map[string][]string `json:"may_live_from"`
	Isolated   map[string]bool
	Secured    map[string]bool
	Points     map[string][]string
	EarthedBy  map[string][]string `json:"earthed_by"`
	MayEarthed map[string]bool     `json:"may_earthed"`
	Parallel   [][]string
	Loops      [][]string
}

type caseStep struct {
	Act                                 Act
	At                                  int
	Device, Node, Source, Document, Key string
	From, To, Lock                      string
	Drops, Nodes                        []string
	Type                                DocumentType
	Refused                             []Rule
	After                               *seen
	Lost                                []string
	Proved                              map[string]int
	Phased                              map[string][3]any
	Documents                           map[string]Document
	Keys                                map[string]string
	Charged                             map[string]bool
}

func (c theCase) String() string { return fmt.Sprint(c.Name, c.Seed) }

func readCases(t *testing.T, file string) []theCase {
	t.Helper()
	f, err := os.Open("../../testdata/network/" + file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	var out []theCase
	dec := json.NewDecoder(z)
	if err := dec.Decode(&out); err != nil {
		t.Fatal(err)
	}
	return out
}

// drawing is the case's network in our own form.
func (c theCase) drawing() Network {
	in := c.Network
	n := Network{Sources: in.Sources, Interlocks: in.Interlocks, Life: Life{minutes(in.Life.Proved), minutes(in.Life.Phased)}}
	for _, id := range in.Nodes {
		n.Nodes = append(n.Nodes, Node{ID: id, Low: slices.Contains(in.Low, id), Load: in.Loads[id]})
	}
	for _, d := range in.Devices {
		n.Devices = append(n.Devices, Device{ID: d.ID, Kind: d.Kind, Between: d.Between, Isolates: d.Isolates, Breaks: d.Breaks, Withdraws: d.Withdraws, BackFeed: d.BackFeed, Normal: c.Start[d.ID]})
	}
	for _, k := range in.Keys {
		key := Key{ID: k.ID, Home: k.Home}
		for device, state := range k.Free {
			free := Condition{Device: device}
			if state == string(Open) || state == string(Closed) {
				free.Pos = Position(state)
			} else {
				free.Place = Place(state)
			}
			key.Free = append(key.Free, free)
		}
		n.Keys = append(n.Keys, key)
	}
	return n
}

func minutes(n int) time.Duration { return time.Duration(n) * time.Minute }

func (s caseStep) step() Step {
	return Step{Act: s.Act, At: minutes(s.At), Timed: true, Device: s.Device + s.From + s.To, Node: s.Node, Source: s.Source, Document: s.Document, Key: s.Key, Lock: s.Lock,
		Drops: s.Drops, Nodes: s.Nodes, Type: s.Type}
}

// told is a view in the form of the cases.
func told(v View) seen {
	out := seen{map[string][]string{}, map[string][]string{}, map[string][]string{}, map[string]bool{}, map[string]bool{}, map[string][]string{}, map[string][]string{}, map[string]bool{}, v.Parallel, v.Loops}
	for _, n := range v.Nodes {
		out.LiveFrom[n.ID], out.Supply[n.ID], out.MayLive[n.ID] = n.Live, n.Supply, n.MayLive
		out.Isolated[n.ID], out.Secured[n.ID] = n.Isolated, n.Secured
		if n.Secured {
			out.Points[n.ID] = n.Points
		}
		out.EarthedBy[n.ID], out.MayEarthed[n.ID] = n.Earths, n.MayEarthed
	}
	return out
}

// alike compares what is told with what is wanted; the order in which points are named does not matter.
var alike = cmp.Options{cmpopts.EquateEmpty(), cmpopts.SortSlices(strings.Compare)}

// rules are the names of the rules broken, each once.
func rules(list []Refusal) []Rule {
	var out []Rule
	for _, r := range list {
		out = append(out, r.Rule)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// Every step of the generated cases is refused by the rules that the file names, and leaves what it says.
func TestAttempt_cases(t *testing.T) {
	steps, accepted := 0, 0
	for _, c := range readCases(t, "plant_cases.json.gz") {
		n, a := c.play(t)
		steps, accepted = steps+n, accepted+a
	}
	if steps != 2040 || accepted != 644 {
		t.Errorf("%d steps with %d accepted: the file holds 2040 with 644", steps, accepted)
	}
}

// The two schedules go through as written by hand.
func TestAttempt_schedules(t *testing.T) {
	steps := 0
	for _, c := range readCases(t, "schedules.json.gz") {
		n, _ := c.play(t)
		steps += n
	}
	if steps != 89 {
		t.Errorf("%d steps: the file holds 89", steps)
	}
}

func (c theCase) play(t *testing.T) (steps, accepted int) {
	t.Helper()
	if found := validate(c.drawing()); len(found) > 0 {
		t.Fatalf("%v: %v", c, found)
	}
	p := layOut(c.drawing())
	s, m := p.Start()
	if c.Begin == nil {
		t.Fatalf("%v: no beginning", c)
	}
	if d := cmp.Diff(*c.Begin, told(p.Look(s, m, 0)), alike); d != "" {
		t.Fatalf("%v: at the start (want -, got +)\n%s", c, d)
	}
	if faults := p.startFaults(); len(faults) != len(c.BeginFaults) {
		t.Fatalf("%v: live and earthed at the start %v: want %v", c, faults, c.BeginFaults)
	}
	for i, want := range c.Steps {
		was := p.Look(s, m, minutes(want.At))
		o := p.Attempt(s, m, want.step())
		if d := cmp.Diff(want.Refused, rules(o.Refused), alike, cmpopts.SortSlices(func(a, b Rule) bool { return a < b })); d != "" {
			t.Fatalf("%v: step %d, %s %s, refused (want -, got +)\n%s", c, i+1, want.Act, want.Device, d)
		}
		if len(o.Refused) == 0 {
			accepted++
		}
		s, m = o.State, o.Memory
		if d := cmp.Diff(was, o.Before); d != "" {
			t.Fatalf("%v: step %d, before\n%s", c, i+1, d)
		}
		if d := cmp.Diff(*want.After, told(o.After), alike); d != "" {
			t.Fatalf("%v: step %d, after (want -, got +)\n%s", c, i+1, d)
		}
		if d := cmp.Diff(p.Look(s, m, minutes(want.At)), o.After); d != "" {
			t.Fatalf("%v: step %d, a look at the state after\n%s", c, i+1, d)
		}
		if c.Name == "" { // the schedules do not say it
			want.remembered(t, fmt.Sprintf("%v: step %d", c, i+1), o)
		}
	}
	if d := cmp.Diff(c.Left, leftWords(p.Left(nil, s, m)), alike); d != "" {
		t.Fatalf("%v: left (want -, got +)\n%s", c, d)
	}
	return len(c.Steps), accepted
}

// remembered compares proofs, phasings, documents and keys.
func (s caseStep) remembered(t *testing.T, where string, o Outcome) {
	t.Helper()
	proved, phased := map[string]int{}, map[string][3]any{}
	for id, p := range o.Memory.Proofs {
		proved[id] = int(p.At.Minutes())
	}
	for id, p := range o.Memory.Phasings {
		phased[id] = [3]any{p.At.Minutes(), anys(p.Supplies[0]), anys(p.Supplies[1])}
	}
	for _, x := range []struct {
		what      string
		want, got any
	}{
		{"proofs", s.Proved, proved}, {"phasings", s.Phased, phased}, {"documents", s.Documents, o.Memory.Documents},
		{"keys", s.Keys, o.Memory.Keys}, {"charged", s.Charged, o.Memory.Charged}, {"lost", s.Lost, o.Lost},
	} {
		if d := cmp.Diff(x.want, x.got, alike); d != "" {
			t.Fatalf("%s: %s (want -, got +)\n%s", where, x.what, d)
		}
	}
}

func anys(list []string) []any {
	var out []any
	for _, s := range list {
		out = append(out, s)
	}
	return out
}

// leftWords writes what is left as the cases do.
func leftWords(list []Leftover) []string {
	var out []string
	quoted := func(l []string) string {
		if len(l) == 0 {
			return "[]"
		}
		return "['" + strings.Join(l, "', '") + "']"
	}
	for _, l := range list {
		switch l.What {
		case LeftDocument:
			out = append(out, "document "+l.ID+" in force")
		case LeftKey:
			out = append(out, "key "+l.ID+" in "+l.Is[0])
		case LeftLocks:
			out = append(out, l.ID+": locks "+quoted(l.Is)+", was "+quoted(l.Want))
		default:
			out = append(out, l.ID+": "+string(l.What)+" "+l.Is[0]+", was "+l.Want[0])
		}
	}
	return out
}
