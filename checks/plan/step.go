package plan

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"handback/checks/network"
	"handback/checks/quantity"
)

// Step is one act of a plan, on a device or in words alone. A hold point is a step that
// waits for checks.
type Step struct {
	ID     string
	Action string // in words

	Act      network.Act // "" for one told by its words alone
	Device   string
	Source   string // discharge
	Lock     string // lock, unlock: its number
	Key      string // key-out, key-in
	Document string // issue, clear, cancel: its number
	Type     network.DocumentType
	Nodes    []string // issue: what it covers
	Drops    []string // loads that go dark on purpose
	Leave    []network.Rule
	Confirm  bool // a second person confirms it
	Follows
	Note    string
	Photos  []string         // photographs that must be attached, by what they show
	Planned *quantity.Second // since the first step

	Path string
}

// rawStep is a step as it stands in the file: a check, a hold point or a plain step.
type rawStep struct {
	rawCheck
	rawHold
	rawPlain
	rawAct
	rawShared
}

// Which keys each of the three takes.
type (
	checkKeys struct {
		rawCheck
		rawShared
		sharing // set in before a check is decoded
	}
	holdKeys struct {
		rawHold
		rawAct
		rawShared
	}
	stepKeys struct {
		rawPlain
		rawAct
		rawShared
	}
)

type rawCheck struct {
	Check string `plan:"check" doc:"id of a check"`
	Kind  string `plan:"kind" doc:"kind of the check; see handback kinds"`
	Title string `plan:"title" doc:"what this check is called on the sheet"`
	At    string `plan:"at" doc:"where on the plant it is taken"`
	Meter string `plan:"instrument" doc:"id of the planned instrument"`
	Tried bool   `plan:"function_check" doc:"yes when the instrument is tried on a known source before the readings and after them"`

	Beyond   string           `plan:"beyond" doc:"why a limit given here goes beyond what is published: who decided it and on which document; it is shown with the finding"`
	DeadBy   string           `plan:"dead_shown_by" doc:"the permit or record that shows the plant dead, where no prove-dead of this plan does"`
	LiveFrom string           `plan:"live_from" doc:"the other, live plant this is taken on while the plant worked on is dead"`
	Life     *quantity.Second `plan:"life,pos" doc:"how long its finding counts before it must be taken again, such as 30 min"`
	Node     string           `plan:"node" doc:"node of the network that a pass proves dead"`

	Given *yaml.Node `plan:"given" doc:"what this kind needs to know"`
}

type rawHold struct {
	Hold  string   `plan:"hold" doc:"id of a hold point"`
	Needs []string `plan:"needs" doc:"checks that must pass first; every check above when not given"`

	Telephone bool `plan:"telephone" doc:"yes when an engineer may accept by telephone what this hold point waits for, with a second person listening; the signature follows"`
}

// rawShared are keys that checks, hold points and steps have in common.
type rawShared struct {
	Planned *quantity.Second `plan:"planned" doc:"when it is planned, since the first step, such as 35 min"`
	Photos  []string         `plan:"photos" doc:"photographs that must be attached before the hold points below are done, each by what it shows, such as links as left, limb U"`
	Note    string           `plan:"note" doc:"a word to the person who takes it"`
	Device  string           `plan:"device" doc:"device of the network that a step is about; of a check, the open device across which a pass shows the phases to be the same"`
	Follows
}

type rawPlain struct {
	Step string `plan:"step" doc:"id of a step"`
}

type rawAct struct {
	Action   string   `plan:"action" doc:"the step in words; made from its act where it has one and no words are given"`
	Act      string   `plan:"act" one:"open|close|withdraw|test-place|put-in-service|earth-on|earth-off|lock|unlock|tag|discharge|issue|clear|cancel|key-out|key-in" doc:"what is done; by it and the network the program knows the state of the plant"`
	Source   string   `plan:"source" doc:"capacitor that is discharged"`
	Lock     string   `plan:"lock" doc:"number of the lock"`
	Key      string   `plan:"key" doc:"number or name of the key"`
	Document string   `plan:"document" doc:"number of the safety document"`
	Type     string   `plan:"type" one:"permit|test" doc:"permit to work, or sanction for test"`
	Nodes    []string `plan:"nodes" doc:"nodes that the document covers"`
	Drops    []string `plan:"drops" doc:"loads that go dark on purpose, by name"`
	Leave    []string `plan:"leave" doc:"rules that a person may take upon them to override at this step: interlock, key, not_isolated, not_proved, parallel, back_feed"`
	Confirm  bool     `plan:"confirm" doc:"yes when a second person confirms it"`
}

// act makes a step of what stands under a path, and notes what is wrong in it.
func (n *Notes) act(path, id string, s rawStep) Step {
	out := Step{ID: id, Action: s.Action, Act: network.Act(s.Act), Device: s.Device, Source: s.Source, Lock: s.Lock, Key: s.Key,
		Document: s.Document, Type: network.DocumentType(s.Type), Nodes: s.Nodes, Drops: s.Drops, Follows: s.Follows, Confirm: s.Confirm,
		Note: s.Note, Photos: s.Photos, Planned: s.Planned, Path: path}
	for i, r := range s.Leave {
		if !slices.Contains(mayLeave, network.Rule(r)) {
			n.At(fmt.Sprintf("%s.leave[%d]", path, i+1), "nobody may override %q: %s may be", r, listed(mayLeave))
		}
		out.Leave = append(out.Leave, network.Rule(r))
	}
	if s.Act == "" {
		if s.Action == "" {
			n.At(path, "neither act nor action: say what step %s does", id)
		}
		return out
	}
	for _, a := range acts {
		if a.act != out.Act {
			continue
		}
		for _, key := range a.needs {
			if !n.gave(path, key) {
				n.At(Join(path, key), "missing: act %s needs it", a.act)
			}
		}
		for _, key := range actKeys {
			if n.gave(path, key) && !slices.Contains(a.needs, key) {
				n.At(Join(path, key), "act %s takes no %s: it takes %s", a.act, key, strings.Join(a.needs, ", "))
			}
		}
	}
	return out
}

// actKeys are the keys that an act takes or does not.
var actKeys = []string{"device", "source", "lock", "key", "document", "type", "nodes"}

// mayLeave are the rules that a plan may let somebody override.
var mayLeave = []network.Rule{network.RuleInterlock, network.RuleKey, network.RuleNotIsolated, network.RuleNotProved, network.RuleParallel, network.RuleBackFeed}

func listed(rules []network.Rule) string {
	var out []string
	for _, r := range rules {
		out = append(out, string(r))
	}
	return strings.Join(out, ", ")
}

// gave tells whether the plan gives a key under a path.
func (n *Notes) gave(path, key string) bool {
	_, ok := n.places[Join(path, key)]
	return ok
}

// allOfSteps are all that a step of any sort may be given.
var allOfSteps = keysOf(reflect.TypeFor[rawStep]())

// foreign notes the keys that do not belong to an item of its sort.
func (n *Notes) foreign(path, sort, id string, t reflect.Type) {
	var own, met []string
	takes := keysOf(t)
	for _, key := range allOfSteps {
		switch {
		case slices.Contains(takes, key):
			own = append(own, key)
		case n.gave(path, key):
			met = append(met, key)
		}
	}
	if len(met) > 0 {
		n.At(path, "%s: no key of a %s such as %s, which takes %s", strings.Join(met, ", "), sort, id, strings.Join(own, ", "))
	}
}

// wire holds what steps and checks name of the network against it, and words the steps
// that have none of their own.
func (n *Notes) wire(p *Plan) {
	var last time.Duration
	for _, it := range p.items {
		if at, ok := since(it.planned()); ok && at < last {
			n.At(it.path()+".planned", "%g min, and what stands above it is planned at %g min: times go on from step to step", at.Minutes(), last.Minutes())
		} else if ok {
			last = at
		}
		if c := it.Check; c != nil {
			n.wireCheck(p, c)
			continue
		}
		s := it.Does()
		if p.Network != nil {
			n.wireStep(p, s)
		}
		if s.Action == "" {
			s.Action = p.worded(s)
		}
	}
}

func (n *Notes) wireCheck(p *Plan, c *Check) {
	known := func(path, what, id string, ids []string) {
		if id != "" && !slices.Contains(ids, id) {
			n.At(path, "no %s %q in the network%s", what, id, Nearest(id, ids))
		}
	}
	var nodes, devices []string
	if p.Network != nil {
		nodes = IDsOf(p.Network.Nodes, func(x Node) string { return x.ID })
		devices = IDsOf(p.Network.Devices, func(x Device) string { return x.ID })
	}
	known(c.Path+".node", "node", c.Node, nodes)
	known(c.Path+".device", "device", c.Device, devices)
	if c.Node != "" && c.Kind != nil && !c.Kind.Proves {
		n.At(c.Path+".node", "check %s (%s) proves nothing dead: node belongs to a check that does", c.ID, c.Kind.Name)
	}
	if c.Device != "" && c.Kind != nil && !c.Kind.Across {
		n.At(c.Path+".device", "check %s (%s) does not show the phases across a device to be the same: device belongs to a check that does", c.ID, c.Kind.Name)
	}
}

func (n *Notes) wireStep(p *Plan, s *Step) {
	w := p.Network
	known := func(key, id string, ids []string) {
		if id != "" && !slices.Contains(ids, id) {
			n.At(Join(s.Path, key), "no %s %q in the network%s", strings.TrimRight(strings.SplitN(key, "[", 2)[0], "s"), id, Nearest(id, ids))
		}
	}
	known("device", s.Device, IDsOf(w.Devices, func(x Device) string { return x.ID }))
	known("source", s.Source, IDsOf(w.Sources, func(x Source) string { return x.ID }))
	known("key", s.Key, IDsOf(w.Keys, func(x Key) string { return x.ID }))
	for i, id := range s.Nodes {
		known(fmt.Sprintf("nodes[%d]", i+1), id, IDsOf(w.Nodes, func(x Node) string { return x.ID }))
	}
	for i, load := range s.Drops {
		loads := IDsOf(w.Nodes, func(x Node) string { return x.Load })
		known(fmt.Sprintf("drops[%d]", i+1), load, loads)
	}
}

// worded is an act in words.
func (p *Plan) worded(s *Step) string {
	name := func(id string) string {
		if p.Network == nil {
			return id
		}
		return p.Network.Named(id)
	}
	var nodes []string
	for _, id := range s.Nodes {
		nodes = append(nodes, name(id))
	}
	with := strings.NewReplacer("{device}", name(s.Device), "{source}", name(s.Source), "{lock}", s.Lock, "{key}", s.Key,
		"{document}", s.Document, "{type}", p.documentOf(s), "{nodes}", strings.Join(nodes, ", "))
	if d := p.deviceOf(s); d != nil && d.Kind == string(network.EarthSwitch) { // its own contacts are the earth
		switch s.Act {
		case network.ActEarthOn:
			return with.Replace("Close {device}")
		case network.ActEarthOff:
			return with.Replace("Open {device}")
		}
	}
	for _, a := range acts {
		if a.act == s.Act {
			return with.Replace(a.words)
		}
	}
	return ""
}

// deviceOf is the device of a step in the network, nil where there is none.
func (p *Plan) deviceOf(s *Step) *Device {
	if p.Network == nil {
		return nil
	}
	return p.Network.Device(s.Device)
}

// documentOf is what the document of a step is called, by the step that issues it.
func (p *Plan) documentOf(s *Step) string {
	for _, it := range p.items {
		if o := it.Does(); o != nil && o.Act == network.ActIssue && o.Document == s.Document {
			return map[network.DocumentType]string{network.Permit: "permit", network.TestSanction: "sanction for test"}[o.Type]
		}
	}
	return "document"
}

// Moves is a step as package network takes it, at a time since the start of the plan. ok
// is false for one that changes nothing of a network: told in words alone, or a tag.
func (s *Step) Moves() (m network.Step, ok bool) {
	if s.Act == "" || s.Act == ActTag {
		return network.Step{}, false
	}
	m = network.Step{Act: s.Act, Device: s.Device, Source: s.Source, Lock: s.Lock, Key: s.Key, Document: s.Document, Type: s.Type,
		Nodes: s.Nodes, Drops: s.Drops, Leave: s.Leave}
	m.At, m.Timed = since(s.Planned)
	return m, true
}

// since is a time of a plan as a duration; ok is false where none is given.
func since(planned *quantity.Second) (at time.Duration, ok bool) {
	if planned == nil {
		return 0, false
	}
	return time.Duration(float64(*planned) * float64(time.Second)), true
}

// SameAct tells whether two steps do the same, whatever else the plan says of them.
func (s *Step) SameAct(o *Step) bool {
	return s.Action == o.Action && s.Act == o.Act && s.Device == o.Device && s.Source == o.Source && s.Lock == o.Lock && s.Key == o.Key &&
		s.Document == o.Document && s.Type == o.Type && slices.Equal(s.Nodes, o.Nodes)
}

// Finds is what a pass of a check tells of the network: a node proved dead, or the sides
// of a device in phase. ok is false for a check that tells nothing of it.
func (c *Check) Finds() (m network.Step, ok bool) {
	m.At, m.Timed = since(c.Planned)
	switch {
	case c.Node != "":
		m.Act, m.Node = network.ActProveDead, c.Node
	case c.Device != "":
		m.Act, m.Device = network.ActPhased, c.Device
	default:
		return network.Step{}, false
	}
	return m, true
}

// Does is the step of an item: a hold point's or a plain one; nil for a check.
func (it Item) Does() *Step {
	if it.Hold != nil {
		return &it.Hold.Step
	}
	return it.Step
}

// Photos are the photographs that an item asks for, by what they show.
func (it Item) Photos() []string {
	if it.Check != nil {
		return it.Check.Photos
	}
	return it.Does().Photos
}

// Photo is the photograph of an item that a name means, capitals aside; "" when it asks
// for none so named.
func (it Item) Photo(name string) string {
	name = strings.Join(strings.Fields(name), " ")
	i := slices.IndexFunc(it.Photos(), func(p string) bool { return strings.EqualFold(p, name) })
	if i < 0 {
		return ""
	}
	return it.Photos()[i]
}

// ID is the id of the check, hold point or step.
func (it Item) ID() string {
	if it.Check != nil {
		return it.Check.ID
	}
	return it.Does().ID
}

// Step finds a step by id, a hold point's too; nil when there is none.
func (p *Plan) Step(id string) *Step {
	for _, it := range p.items {
		if s := it.Does(); s != nil && s.ID == id {
			return s
		}
	}
	return nil
}
