package plan

import (
	"reflect"
	"slices"
	"sync"
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

// laidOut is what much is asked for by the order of a plan: a job asks with every line.
type laidOut struct {
	checks  []*Check
	holds   []*Hold
	byID    map[string]*Check // the first of that id
	over    map[*Check]int    // how many hold points stand above
	checkAt map[*Check]int    // where it stands among all items
	holdAt  map[*Hold]int
	inParts func() parts // nothing is parted before somebody asks
}

// parts is a plan in sections.
type parts struct {
	sections []section
	of       map[*Check]*section // that it proves dead or is work of
}

// inParts parts the plan once.
func (p *Plan) inParts() parts {
	if p.laid.inParts == nil { // a plan without items
		return parts{}
	}
	return p.laid.inParts()
}

// lay puts the items of a plan in order.
func (p *Plan) lay(items []Item) {
	l := laidOut{byID: map[string]*Check{}, over: map[*Check]int{}, checkAt: map[*Check]int{}, holdAt: map[*Hold]int{}}
	for i, it := range items {
		switch {
		case it.Hold != nil:
			l.holdAt[it.Hold] = i
			l.holds = append(l.holds, it.Hold)
		case it.Check != nil:
			if _, twice := l.byID[it.Check.ID]; !twice {
				l.byID[it.Check.ID] = it.Check
			}
			l.checkAt[it.Check], l.over[it.Check] = i, len(l.holds)
			l.checks = append(l.checks, it.Check)
		}
	}
	l.checks, l.holds = slices.Clip(l.checks), slices.Clip(l.holds)
	l.inParts = sync.OnceValue(func() parts {
		all := parts{sections(items), map[*Check]*section{}}
		for i := range all.sections {
			s := &all.sections[i]
			for _, c := range slices.Concat(s.proofs, s.work) {
				all.of[c] = s
			}
		}
		return all
	})
	p.items, p.laid = items, l
}

// HoldsAbove are the hold points above a check, all of them for a check that is not in the
// plan. They are read only.
func (p *Plan) HoldsAbove(check string) []*Hold {
	if c := p.laid.byID[check]; c != nil {
		return p.laid.holds[:p.laid.over[c]]
	}
	return p.laid.holds
}

// HoldsAround are the nearest hold points above and below a check, nil where there
// is none.
func (p *Plan) HoldsAround(check string) (above, below *Hold) {
	n := len(p.HoldsAbove(check))
	if n > 0 {
		above = p.laid.holds[n-1]
	}
	if n < len(p.laid.holds) {
		below = p.laid.holds[n]
	}
	return above, below
}

// sections parts the items of a plan. A check that is neither taken dead nor live, and one
// taken on other plant that stays live, belongs where it stands and parts nothing.
func sections(items []Item) []section {
	var out []section
	var after []*Hold // holds since the last proof or work
	live := true
	for _, it := range items {
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
func (p *Plan) StageOf(h *Hold) Stage { return stageIn(p.inParts().sections, h) }

func stageIn(sections []section, h *Hold) Stage {
	for _, s := range sections {
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
	s := p.inParts().of[c]
	if s == nil {
		return nil, nil, nil, nil, false
	}
	at := p.laid.checkAt[c]
	for _, d := range s.proofs {
		if p.laid.checkAt[d] < at {
			proofs = append(proofs, d)
		}
	}
	for _, h := range s.begin {
		if p.laid.holdAt[h] < at {
			begin = append(begin, h)
		}
	}
	return proofs, s.work, begin, s.energise, true
}

// EarthedFrom are, for a check taken on live plant above a stretch of dead plant, the
// hold points behind which that plant is earthed, and those that give it its volts back;
// none for other checks, and for one taken on other, live plant.
func (p *Plan) EarthedFrom(c *Check) (begin, energise []*Hold) {
	if !c.Kind.Live || c.Kind.Proves || c.LiveFrom != "" {
		return nil, nil
	}
	at, ok := p.laid.checkAt[c]
	if !ok {
		at = -1
	}
	above := func(d *Check) bool { return p.laid.checkAt[d] < at }
	for _, s := range p.inParts().sections { // the first of each stands above the others
		if (len(s.proofs) == 0 || !above(s.proofs[0])) && (len(s.work) == 0 || !above(s.work[0])) {
			return s.begin, s.energise
		}
	}
	return nil, nil
}

// BegunBehind gives, for a hold point behind which work on dead plant begins, what
// proves the plant dead above it, and the hold points that give it its volts back; none
// for other hold points.
func (p *Plan) BegunBehind(h *Hold) (proofs []*Check, energise []*Hold) {
	for _, s := range p.inParts().sections {
		if !slices.Contains(s.begin, h) {
			continue
		}
		for _, d := range s.proofs {
			if p.laid.checkAt[d] < p.laid.holdAt[h] {
				proofs = append(proofs, d)
			}
		}
		return proofs, s.energise
	}
	return nil, nil
}

// stageNeeds adds to each hold point what its stage needs whatever the plan names:
// every proof of dead, what is put on, work on dead plant and check that shows whether two sides may
// be joined or parted above it; to one that gives plant its volts back every check
// above it. A plan may add to these, never take away.
func (p *Plan) stageNeeds() {
	var above []*Check
	stretches := sections(p.items)
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
		h, all := it.Hold, stageIn(stretches, it.Hold) == Energise
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
