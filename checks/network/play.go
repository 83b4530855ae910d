package network

import (
	"slices"
	"strings"
	"time"
)

// Run is a list of steps played from a state, as a dry run does before anybody goes to site.
type Run struct {
	Start     View       `json:"start"`
	Lines     []Line     `json:"lines"` // one a step
	Parallels []Parallel `json:"parallels"`
	Left      []Leftover `json:"left"`
	State     State      `json:"state"`
	Memory    Memory     `json:"memory"`
	End       View       `json:"end"`
}

// Refused tells whether some step was.
func (r Run) Refused() bool {
	return slices.ContainsFunc(r.Lines, func(l Line) bool { return len(l.Refused) > 0 })
}

// Line is what one step changes. All lists but the refusals hold what is new since the line before.
type Line struct {
	Step        int       `json:"step"` // its number, from 1
	Refused     []Refusal `json:"refused,omitempty"`
	Overridden  []Refusal `json:"overridden,omitempty"` // that somebody will have to take upon them on site, by the plan's leave
	Broken      []Refusal `json:"broken,omitempty"`
	Lost        []string  `json:"lost,omitempty"`         // nodes that go dark
	Loads       []string  `json:"loads,omitempty"`        // on them
	Back        []string  `json:"back,omitempty"`         // nodes that a supply reaches again
	Isolated    []Cut     `json:"isolated,omitempty"`     // nodes newly isolated, or by other gaps
	Secured     []Cut     `json:"secured,omitempty"`      // nodes newly secured, or by other points
	NotIsolated []string  `json:"not_isolated,omitempty"` // nodes that were
	Feeds       []Feed    `json:"feeds,omitempty"`        // ways in which a dead node could become live
	BackFed     []string  `json:"back_fed,omitempty"`     // transformers that become live backwards
}

// Cut is nodes and the devices that cut them off from every supply.
type Cut struct {
	Nodes []string `json:"nodes"`
	By    []string `json:"by"`
}

// Parallel is a group that stands in parallel from one step to another.
type Parallel struct {
	Supplies     []string      `json:"supplies,omitempty"`
	Transformers []string      `json:"transformers,omitempty"`
	From         int           `json:"from"` // number of the step that joins it; 0: from the start
	To           int           `json:"to"`   // of the step that parts it; 0: it stands at the end
	Lasts        time.Duration `json:"lasts,omitempty"`
	Timed        bool          `json:"timed,omitempty"` // both steps have planned times, so Lasts is known
}

// Play plays steps in order from a state. A step that is refused changes nothing and the next is played all the same, but for a rule that the
// plan lets somebody override at it: that one goes on. A step without a planned time happens at the last one that is known. Wanted is how devices
// are to stand at the end, as Left takes it.
func (p *Plant) Play(s State, m Memory, steps []Step, wanted State) Run {
	out := Run{Start: p.Look(s, m, 0), State: s, Memory: m}
	out.End = out.Start
	var known spans
	known.note(0, Step{}, out.Start)
	feeds := p.allFeeds(s, out.Start)
	var now time.Duration
	for i, step := range steps {
		if step.Timed {
			now = step.At
		}
		step.At = now
		o := p.attempt(out.State, out.Memory, step, step.leave)
		l := Line{Step: i + 1, Refused: o.Refused, Overridden: o.Overridden, Broken: o.Broken, Lost: o.Lost, Loads: o.Loads}
		if len(o.Refused) == 0 {
			is := feeds
			if step.Act == ActFound || step.Act == ActDischarge || slices.Contains(moves, step.Act) {
				is = p.allFeeds(o.State, o.After)
			}
			l.changes(out.End, o.After)
			l.Feeds = newFeeds(feeds, is)
			known.note(i+1, step, o.After)
			feeds, out.End = is, o.After
		}
		out.State, out.Memory = o.State, o.Memory
		out.Lines = append(out.Lines, l)
	}
	out.Parallels = known.list
	out.Left = p.Left(wanted, out.State, out.Memory)
	return out
}

// changes notes what two views differ in.
func (l *Line) changes(was, is View) {
	for i, n := range is.Nodes {
		before := was.Nodes[i]
		if len(before.Supply) == 0 && len(n.Supply) > 0 {
			l.Back = append(l.Back, n.ID)
		}
		if before.Isolated && !n.Isolated {
			l.NotIsolated = append(l.NotIsolated, n.ID)
		}
		if n.Isolated && !(before.Isolated && slices.Equal(before.Gaps, n.Gaps)) {
			l.Isolated = gather(l.Isolated, n.ID, n.Gaps)
		}
		if n.Secured && !(before.Secured && slices.Equal(before.Points, n.Points)) {
			l.Secured = gather(l.Secured, n.ID, n.Points)
		}
	}
	l.BackFed = slices.DeleteFunc(slices.Clone(is.BackFed), func(t string) bool { return slices.Contains(was.BackFed, t) })
}

// gather puts nodes cut off by the same devices together.
func gather(list []Cut, node string, by []string) []Cut {
	i := slices.IndexFunc(list, func(c Cut) bool { return slices.Equal(c.By, by) })
	if i < 0 {
		return append(list, Cut{[]string{node}, by})
	}
	list[i].Nodes = append(list[i].Nodes, node)
	return list
}

// allFeeds gives the ways in which each dead node could become live.
func (p *Plant) allFeeds(s State, v View) []Feed {
	f := p.frame(s)
	var out []Feed
	for i, n := range v.Nodes {
		if len(n.MayLive) == 0 && !n.Isolated {
			out = append(out, p.feeds(f, i)...)
		}
	}
	return out
}

func newFeeds(was, is []Feed) []Feed {
	key := func(f Feed) string {
		return strings.Join(slices.Concat([]string{f.Node, f.Device}, f.Sources, []string{"through"}, f.Through), "\x00")
	}
	old := map[string]bool{}
	for _, f := range was {
		old[key(f)] = true
	}
	return slices.DeleteFunc(slices.Clone(is), func(f Feed) bool { return old[key(f)] })
}

// spans follows the groups in parallel over steps.
type spans struct {
	list  []Parallel
	since []Step // of each, the step that joined it
}

// note takes the view after a step: groups that are new begin, those no longer there end.
func (x *spans) note(number int, step Step, v View) {
	var groups []Parallel
	for _, g := range v.Parallel {
		groups = append(groups, Parallel{Supplies: g})
	}
	for _, g := range v.Loops {
		groups = append(groups, Parallel{Transformers: g})
	}
	same := func(a, b Parallel) bool {
		return slices.Equal(a.Supplies, b.Supplies) && slices.Equal(a.Transformers, b.Transformers)
	}
	for i, old := range x.list {
		if old.To != 0 || slices.ContainsFunc(groups, func(g Parallel) bool { return same(g, old) }) {
			continue
		}
		x.list[i].To = number
		if x.list[i].Timed = step.Timed && x.since[i].Timed; x.list[i].Timed {
			x.list[i].Lasts = step.At - x.since[i].At
		}
	}
	for _, g := range groups {
		if !slices.ContainsFunc(x.list, func(old Parallel) bool { return old.To == 0 && same(g, old) }) {
			g.From = number
			x.list, x.since = append(x.list, g), append(x.since, step)
		}
	}
}
