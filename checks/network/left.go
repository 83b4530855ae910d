package network

import (
	"maps"
	"slices"
)

// Remains is what a leftover is about.
type Remains string

// What may be left over.
const (
	LeftPosition Remains = "pos"
	LeftPlace    Remains = "place"
	LeftLocks    Remains = "locks"
	LeftDocument Remains = "document"
	LeftKey      Remains = "key"
)

// Leftover is one thing that is not as the end of a plan wants it.
type Leftover struct {
	What Remains  `json:"what"`
	ID   string   `json:"id"` // device, document or key
	Is   []string `json:"is"`
	Want []string `json:"want"`
}

// Left names what the end of a plan must account for: devices, earths and links among them, that do not stand as wanted, documents in force,
// keys away from home. Wanted is the start, or what the plan says of its end; a device that it does not name is wanted as at the start,
// and so is the position or the place that it leaves out; locks are wanted as it names them.
func (p *Plant) Left(wanted, s State, m Memory) []Leftover {
	var out []Leftover
	note := func(what Remains, id string, is, want []string) {
		if !slices.Equal(is, want) {
			out = append(out, Leftover{what, id, is, want})
		}
	}
	start, first := p.Start()
	for _, d := range p.net.Devices {
		want, ok := wanted[d.ID]
		if !ok {
			want = start[d.ID]
		}
		if want.Pos == "" {
			want.Pos = start[d.ID].Pos
		}
		if want.Place == "" {
			want.Place = start[d.ID].Place
		}
		is := s[d.ID]
		if d.transformer() {
			continue
		}
		note(LeftPosition, d.ID, []string{string(is.Pos)}, []string{string(want.Pos)})
		note(LeftPlace, d.ID, []string{string(is.Place)}, []string{string(want.Place)})
		note(LeftLocks, d.ID, is.Locks, slices.Sorted(slices.Values(want.Locks)))
	}
	for _, id := range slices.Sorted(maps.Keys(m.Documents)) {
		out = append(out, Leftover{What: LeftDocument, ID: id})
	}
	for _, k := range p.net.Keys {
		note(LeftKey, k.ID, []string{m.Keys[k.ID]}, []string{first.Keys[k.ID]})
	}
	return out
}
