package plan

import (
	"reflect"
	"slices"
	"time"

	"handback/checks/network"
)

// Stage is what the step behind a hold point does to the plant worked on, as the
// order of the plan tells it.
type Stage int

const (
	Onward    Stage = iota // neither of the two below: closing, opening, loading
	BeginWork              // the plant is earthed and work on it begins
	Energise               // the plant gets its volts back
)

// section is one stretch of a plan on dead plant: from its first proof of dead or
// work on dead plant to the first check taken on it live again.
type section struct {
	proofs   []*Check // prove the plant dead
	work     []*Check // taken on dead plant
	begin    []*Hold  // holds with a proof or work below them in the section
	energise []*Hold  // holds behind the last work, before the first live check
}

// sections parts the plan. A check that is neither taken dead nor live, and one
// taken on other plant that stays live, belongs where it stands and parts nothing.
func (p *Plan) sections() []section {
	var out []section
	var after []*Hold // holds since the last proof or work
	live := true
	for _, it := range p.items {
		c := it.Check
		switch {
		case it.Step != nil:
		case c == nil && !live:
			after = append(after, it.Hold)
		case c == nil || c.Kind == nil:
		case c.Kind.Dead || c.Kind.Proves:
			if live {
				out, live = append(out, section{}), false
			}
			s := &out[len(out)-1]
			s.begin, after = append(s.begin, after...), nil
			if c.Kind.Dead {
				s.work = append(s.work, c)
			} else {
				s.proofs = append(s.proofs, c)
			}
		case c.Kind.Live && c.LiveFrom == "" && !live:
			out[len(out)-1].ends(after)
			after, live = nil, true
		}
	}
	if !live {
		out[len(out)-1].ends(after)
	}
	return out
}

// ends takes up the holds behind the last proof or work of a section. Those give the plant
// its volts back, but for one whose act cannot.
func (s *section) ends(holds []*Hold) {
	for _, h := range holds {
		if slices.Contains([]network.Act{network.ActOpen, network.ActWithdraw, network.ActEarthOn, network.ActLock, network.ActIssue, ActTag}, h.Act) {
			s.begin = append(s.begin, h)
			continue
		}
		s.energise = append(s.energise, h)
	}
}

// StageOf tells what the step behind a hold point of the plan does.
func (p *Plan) StageOf(h *Hold) Stage {
	for _, s := range p.sections() {
		switch {
		case slices.Contains(s.begin, h):
			return BeginWork
		case slices.Contains(s.energise, h):
			return Energise
		}
	}
	return Onward
}

// DeadSection is the stretch of dead plant that a proof of dead or a check on dead
// plant belongs to: what proves it dead above the check, the work of the whole
// stretch, the hold points above the check behind which work begins, and those that
// give the plant its volts back. ok is false for a check of neither sort.
func (p *Plan) DeadSection(c *Check) (proofs, work []*Check, begin, energise []*Hold, ok bool) {
	for _, s := range p.sections() {
		if !slices.Contains(s.proofs, c) && !slices.Contains(s.work, c) {
			continue
		}
		for _, d := range s.proofs {
			if p.position(d) < p.position(c) {
				proofs = append(proofs, d)
			}
		}
		for _, h := range s.begin {
			if p.holdPosition(h) < p.position(c) {
				begin = append(begin, h)
			}
		}
		return proofs, s.work, begin, s.energise, true
	}
	return nil, nil, nil, nil, false
}

// EarthedFrom are, for a check taken on live plant above a stretch of dead plant, the
// hold points behind which that plant is earthed, and those that give it its volts back;
// none for other checks, and for one taken on other, live plant.
func (p *Plan) EarthedFrom(c *Check) (begin, energise []*Hold) {
	if !c.Kind.Live || c.Kind.Proves || c.LiveFrom != "" {
		return nil, nil
	}
	for _, s := range p.sections() {
		above := func(d *Check) bool { return p.position(d) < p.position(c) }
		if !slices.ContainsFunc(s.proofs, above) && !slices.ContainsFunc(s.work, above) {
			return s.begin, s.energise
		}
	}
	return nil, nil
}

// BegunBehind gives, for a hold point behind which work on dead plant begins, what
// proves the plant dead above it, and the hold points that give it its volts back; none
// for other hold points.
func (p *Plan) BegunBehind(h *Hold) (proofs []*Check, energise []*Hold) {
	for _, s := range p.sections() {
		if !slices.Contains(s.begin, h) {
			continue
		}
		for _, d := range s.proofs {
			if p.position(d) < p.holdPosition(h) {
				proofs = append(proofs, d)
			}
		}
		return proofs, s.energise
	}
	return nil, nil
}

func (p *Plan) position(c *Check) int {
	return slices.IndexFunc(p.items, func(it Item) bool { return it.Check == c })
}

func (p *Plan) holdPosition(h *Hold) int {
	return slices.IndexFunc(p.items, func(it Item) bool { return it.Hold == h })
}

// stageNeeds adds to each hold point what its stage needs whatever the plan names:
// every proof of dead, what is put on, work on dead plant and check that shows whether two sides may
// be joined or parted above it; to one that gives plant its volts back every check
// above it. A plan may add to these, never take away.
func (p *Plan) stageNeeds() {
	var above []*Check
	for _, it := range p.items {
		if it.Step != nil {
			continue
		}
		if it.Check != nil {
			if it.Check.Kind != nil {
				above = append(above, it.Check)
			}
			continue
		}
		h, all := it.Hold, p.StageOf(it.Hold) == Energise
		var needs []string
		for _, c := range above {
			named := slices.Contains(h.Needs, c.ID)
			if !named && (all || c.Kind.Dead || c.Kind.Proves || c.Kind.PutsOn || c.Kind.Joins) {
				h.Added = append(h.Added, c.ID)
				named = true
			}
			if named {
				needs = append(needs, c.ID)
			}
		}
		h.Needs = needs
	}
}

// The life of a finding where its plan gives none (our choice): what was seen on
// live plant counts for one shift, and a proof of dead must soon be followed by
// earthing.
const (
	proofLife = time.Hour
	LiveLife  = 12 * time.Hour
)

// LifeOf is how long a pass of the check counts towards the hold points below it; 0
// for as long as nothing it rests on changes.
func (c *Check) LifeOf() time.Duration {
	switch {
	case c.Life != nil:
		return time.Duration(float64(*c.Life) * float64(time.Second))
	case c.Kind.Proves:
		return proofLife
	case c.Kind.Live:
		return LiveLife
	}
	return 0
}

// RestsOn are the checks above c whose work it was taken on: when one of them is
// taken again and leaves the plant otherwise, c must be taken again too.
func (p *Plan) RestsOn(c *Check) []string {
	var out []string
	references("", reflect.ValueOf(c.Given).Elem(), func(_, ref, id string) {
		if ref == "tap-links" {
			out = append(out, id)
		}
	})
	if c.Kind.Rests != nil {
		out = append(out, c.Kind.Rests(p, c)...)
	}
	return out
}
