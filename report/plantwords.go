package report

import (
	"cmp"
	"slices"
	"strings"

	"handback/checks/network"
	"handback/checks/plan"
	"handback/templates"
)

// PlantWords are the words of a code of the plant. Where the catalogue lacks it the code
// stands for itself: a refusal is never lost for want of words.
func PlantWords(code string, values map[string]any) string {
	words, err := templates.Group("plant", code, values)
	if err != nil {
		return code
	}
	return words
}

// And lists names in a sentence.
func And(names []string) string {
	if n := len(names); n > 1 {
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
	return strings.Join(names, "")
}

// NamesOf lists nodes, sources or devices of a network as they are called on site.
func NamesOf(p *plan.Plan, ids []string) string {
	names := make([]string, len(ids))
	for i, id := range ids {
		names[i] = p.Network.Named(id)
	}
	return And(names)
}

// RefusalWords tell why a step is refused: what stands in the way, what to do first, and
// who may override it.
func RefusalWords(p *plan.Plan, r network.Refusal) string {
	dev := p.Network.Device(r.Device)
	values := map[string]any{
		"device": p.Network.Named(r.Device), "unknown": dev == nil && r.Device != "", "kind": "",
		"nodes": NamesOf(p, r.Nodes), "sources": NamesOf(p, r.Sources), "devices": NamesOf(p, r.Devices),
		"locks": And(r.Locks), "loads": And(r.Loads), "key": r.Key, "document": r.Document, "rule": string(r.Rule),
		"cure": cureWords(p, r), "either": eitherCures(r),
	}
	if dev != nil {
		values["kind"] = strings.ReplaceAll(dev.Kind, "-", " ")
	}
	var feeds []map[string]any
	for _, f := range r.Feeds {
		feeds = append(feeds, FeedValues(p, f))
	}
	values["feeds"] = feeds
	code := string(r.Rule)
	if r.Why != "" {
		code += "." + string(r.Why)
	}
	values["fact"] = capital(PlantWords(code, values))
	values["authority"] = PlantWords("authority."+string(r.Authority), values)
	return PlantWords("refusal", values)
}

// FeedValues are the names of one way in which a dead node could become live.
func FeedValues(p *plan.Plan, f network.Feed) map[string]any {
	i := slices.IndexFunc(p.Grid().Network().Devices, func(d network.Device) bool { return d.ID == f.Device })
	return map[string]any{"device": p.Network.Named(f.Device), "withdraws": i >= 0 && p.Grid().Network().Devices[i].Can(network.ActWithdraw),
		"sources": NamesOf(p, f.Sources), "node": p.Network.Named(f.Node), "through": NamesOf(p, f.Through)}
}

// RuleSource tells where a rule comes from.
func RuleSource(r network.Rule) string { return PlantWords("source."+string(r), nil) }

// eitherCures tells whether one of the steps that cure a refusal is enough.
func eitherCures(r network.Refusal) bool {
	return len(r.Cure) > 1 && (r.Rule == network.RuleBackFeed || r.Rule == network.RuleNotSafe && r.Why == network.WhyUnearthed)
}

// cureWords are the steps that would cure a refusal; acts on one device in a row name it once.
func cureWords(p *plan.Plan, r network.Refusal) string {
	var out strings.Builder
	for i, s := range r.Cure {
		device := p.Network.Named(s.Device)
		switch {
		case i == 0:
		case s.Device != "" && s.Device == r.Cure[i-1].Device && s.Key == "":
			out.WriteString(" and ")
			device = "it"
		case eitherCures(r):
			out.WriteString(" or ")
		default:
			out.WriteString(", ")
		}
		out.WriteString(PlantWords("act."+string(s.Act), map[string]any{"device": device, "lock": s.Lock, "node": p.Network.Named(s.Node),
			"source": p.Network.Named(s.Source), "document": s.Document, "key": s.Key}))
	}
	return out.String()
}

// capital makes the first letter of a sentence a capital one, but of a name as the plan has it.
func capital(s string) string {
	word, _, _ := strings.Cut(s, " ")
	if slices.Contains([]string{"a", "an", "both", "document", "key", "no", "permit", "the", "there"}, word) {
		return strings.ToUpper(s[:1]) + s[1:]
	}
	return s
}

// StoppedNodes are the nodes at which a proof of dead came to a stop that stands, each with its check.
func (j *Job) StoppedNodes() map[string]string {
	out := map[string]string{}
	for _, s := range j.States {
		if a := s.LastJudged(); s.Check.Kind.Proves && s.Check.Node != "" && a != nil && a.Told.Stop != nil {
			out[s.Check.Node] = s.Check.ID
		}
	}
	return out
}

// StateLines tell how plant stands: a line a node, then a line a device. Stopped are the nodes at which a proof of dead
// came to a stop that stands.
func StateLines(p *plan.Plan, v network.View, s network.State, stopped map[string]string) []string {
	var out []string
	for _, n := range v.Nodes {
		out = append(out, plantLine(p, n.ID, NodeWords(p, n, stopped[n.ID])))
	}
	for _, d := range p.Grid().Network().Devices {
		if d.Kind != network.Transformer { // it carries always
			out = append(out, plantLine(p, d.ID, DeviceWords(p, d, v, s[d.ID])))
		}
	}
	return out
}

// plantLine puts the name of a node or device before how it stands.
func plantLine(p *plan.Plan, id, stands string) string {
	return PlantWords("line", map[string]any{"name": p.Network.Named(id), "stands": stands})
}

// NodeWords tell how a node stands, as the steps leave it. Where a proof of dead came to a stop that stands, its check
// is named: the tester said otherwise than the steps, and nobody reads "dead" beside it.
func NodeWords(p *plan.Plan, n network.NodeView, stop string) string {
	load := ""
	for _, x := range p.Network.Nodes {
		if x.ID == n.ID {
			load = x.Load
		}
	}
	return PlantWords("node", map[string]any{"stop": stop, "load": load, "live": NamesOf(p, n.Live), "may_live": NamesOf(p, n.MayLive),
		"proved": n.Proved, "secured": n.Secured, "points": NamesOf(p, n.Points), "isolated": n.Isolated, "gaps": NamesOf(p, n.Gaps),
		"earths": NamesOf(p, n.Earths), "may_earthed": n.MayEarthed})
}

// DeviceWords tell how a device stands, and of one that carries what it is live from.
func DeviceWords(p *plan.Plan, d network.Device, v network.View, s network.Standing) string {
	place := ""
	if d.Can(network.ActWithdraw) {
		place = PlaceWords(s.Place)
	}
	var live []string
	if s.Pos == network.Closed && s.Place == network.Service {
		for _, id := range d.Between {
			live = append(live, v.Node(id).Live...)
		}
		slices.Sort(live)
	}
	return PlantWords("device", map[string]any{"place": place, "position": PositionWords(string(d.Kind), s.Pos),
		"live": NamesOf(p, slices.Compact(live)), "locks": And(s.Locks)})
}

// PositionWords tell a position of a device by its kind: an earth is on or off.
func PositionWords(kind string, pos network.Position) string {
	sort := "position"
	switch network.Kind(kind) {
	case network.EarthSwitch, network.PortableEarth:
		sort = "earth"
	case network.Machine:
		sort = "machine"
	}
	if pos != network.Open && pos != network.Closed {
		pos = network.Unknown
	}
	return PlantWords(sort+"."+string(pos), nil)
}

// PlaceWords tell the place of a device that can be withdrawn.
func PlaceWords(place network.Place) string {
	return PlantWords("place."+cmp.Or(string(place), "unknown"), nil)
}
