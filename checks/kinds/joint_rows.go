package kinds

import (
	"fmt"
	"strings"

	"handback/checks/plan"
)

// mostNumber is the greatest number that joints bear (our choice).
const mostNumber = 99999

// perRow is how many readings one line takes at most.
const perRow = 12

// series is a thing of the plan that stands for several alike: id-1, id-2 and so on,
// from the number of the first; the thing itself where no count is given.
type series struct {
	id, name     string
	count, first *int
	at           string // its key in what the check is given
}

// each gives the ids and names that a series stands for.
func (s series) each() (ids, names []string) {
	if s.count == nil {
		return []string{s.id}, []string{s.name}
	}
	for i := range *s.count {
		n := i + s.from()
		ids, names = append(ids, fmt.Sprintf("%s-%d", s.id, n)), append(names, fmt.Sprintf("%s %d", s.name, n))
	}
	return ids, names
}

func (s series) from() int {
	if s.first == nil {
		return 1
	}
	return *s.first
}

// size is how many it stands for.
func (s series) size() int {
	if s.count == nil {
		return 1
	}
	return *s.count
}

// numbered says how many it stands for, "" for one that stands for itself.
func (s series) numbered() string {
	if s.count == nil || *s.count < 2 {
		return ""
	}
	return fmt.Sprintf(" %d to %d", s.from(), s.from()+*s.count-1)
}

// needSeries demands sound counts, and ids that stand once when all are written out.
func needSeries(all []series, say plan.Say) {
	seen := map[string]bool{}
	for _, s := range all {
		at := s.at
		switch {
		case s.count != nil && (*s.count < 1 || *s.count > maxReadings):
			say(at+".count", "%d: 1 to %d alike are wanted", *s.count, maxReadings)
			continue
		case s.first != nil && s.count == nil:
			say(at+".first", "needs a count: how many there are from it on")
			continue
		case s.first != nil && (*s.first < 0 || *s.first > mostNumber):
			say(at+".first", "%d: a number from 0 to %d is wanted", *s.first, mostNumber)
			continue
		}
		ids, _ := s.each()
		for _, id := range ids {
			if !plan.IDShape(id) {
				say(at+".id", "%q: lower-case letters, digits and hyphens are accepted, 40 at most", id)
				break
			}
			if seen[id] {
				say(at+".id", "%q stands twice: ids stand once", id)
				break
			}
			seen[id] = true
		}
	}
}

// mostBolts is more than any joint of this plant has (our choice).
const mostBolts = 64

// needOwnKeys demands sound numbers of bolts, and that no two questions share a key.
func needOwnKeys(g *joints, say plan.Say) {
	for i, j := range g.Joints {
		if j.bolts() < 1 || j.bolts() > mostBolts {
			say(fmt.Sprintf("joints[%d].bolts", i+1), "%d: 1 to %d are wanted", *j.Bolts, mostBolts)
			return
		}
	}
	if n := g.torques(); n < 1 || n > maxReadings {
		return // already noted
	}
	seen := map[string]bool{}
	for _, r := range g.rows() {
		keys := []string{r.mark}
		for _, t := range r.torques {
			keys = append(keys, t.field)
		}
		for _, key := range keys {
			if seen[key] {
				say("joints", "two questions would be called %s: give one of the joints another id", key)
				return
			}
			seen[key] = true
		}
	}
}

// torque is one reading of a joints check.
type torque struct {
	joint      joint
	name       string // of the joint, with its bolt
	field, key string // of the answer, of the derived value
	label      string // as it is asked
}

// jointRow is a line of torques with what is asked once for all of them.
type jointRow struct {
	joint        joint
	id, after    string // the line of the torques, and of what follows; one line where it is one torque
	name, hint   string
	torques      []torque
	mark, second string // keys
	marked       string // how the mark is asked
}

func (j joint) series() series { return series{id: j.ID, name: j.Name, count: j.Count, first: j.First} }

// many tells whether a joint has more than one torque: these are typed in rows.
func (j joint) many() bool { return j.Count != nil || j.Bolts != nil }

func (j joint) bolts() int {
	if j.Bolts == nil {
		return 1
	}
	return *j.Bolts
}

// size is how many torques it asks.
func (j joint) size() int { return j.series().size() * j.bolts() }

// all names what a joint of the plan stands for.
func (j joint) all() string {
	name := j.Name + j.series().numbered()
	if j.Bolts != nil {
		name += fmt.Sprintf(", %d bolts each", *j.Bolts)
	}
	return name
}

func (g *joints) series() []series {
	out := make([]series, len(g.Joints))
	for i, j := range g.Joints {
		out[i] = j.series()
		out[i].at = fmt.Sprintf("joints[%d]", i+1)
	}
	return out
}

// torques is how many readings the plan asks.
func (g *joints) torques() int {
	n := 0
	for _, j := range g.Joints {
		n += j.size()
	}
	return n
}

// each lists the torques in the order of the plan.
func (g *joints) each() []torque {
	var out []torque
	for _, j := range g.Joints {
		ids, names := j.series().each()
		for i, id := range ids {
			t := torque{joint: j, name: names[i], field: fieldKey(id, "torque"), key: "torque_" + strings.ReplaceAll(id, "-", "_")}
			if j.Bolts == nil {
				t.label = t.name
				if !j.many() {
					t.label += ", " + g.torqueName()
				}
				out = append(out, t)
				continue
			}
			for n := range *j.Bolts {
				b := t
				b.name = fmt.Sprintf("%s bolt %d", t.name, n+1)
				b.field, b.key, b.label = fmt.Sprintf("%s_b%d", t.field, n+1), fmt.Sprintf("%s_b%d", t.key, n+1), b.name
				if j.Count != nil {
					b.label = fmt.Sprintf("%s.%d", t.name, n+1) // twelve of them stand before one line
				}
				out = append(out, b)
			}
		}
	}
	return out
}

// rows parts the torques into lines: one of a joint that has but one, else up to twelve,
// of whole joints where they fit.
func (g *joints) rows() []jointRow {
	var out []jointRow
	all := g.each()
	for _, j := range g.Joints {
		if !j.many() {
			out = append(out, jointRow{joint: j, id: j.ID, after: j.ID, name: j.Name, torques: all[:1],
				mark: fieldKey(j.ID, "mark"), second: fieldKey(j.ID, "second"), marked: "witness mark"})
			all = all[1:]
			continue
		}
		of := j.size()
		mine, per := all[:of], perRow
		if j.bolts() <= perRow {
			per -= perRow % j.bolts()
		}
		for n := 1; len(mine) > 0; n++ {
			out = append(out, j.row(n, mine[:min(per, len(mine))]))
			mine = mine[min(per, len(mine)):]
		}
		all = all[of:]
	}
	return out
}

// row is the n-th line of a joint with more than one torque.
func (j joint) row(n int, torques []torque) jointRow {
	id := fmt.Sprintf("%s-row%d", j.ID, n)
	r := jointRow{joint: j, id: id, after: id + "-after", name: torques[0].name, torques: torques, marked: "witness mark",
		mark: fieldKey(id, "mark"), second: fieldKey(id, "second"), hint: "one reading each; - leaves one open that was not read"}
	if j.Count != nil && j.Bolts != nil {
		r.hint = "joint.bolt: " + r.hint
	}
	if last := torques[len(torques)-1]; len(torques) > 1 {
		r.name, r.marked = torques[0].name+" to "+strings.TrimPrefix(last.name, j.Name+" "), "witness mark on every one"
	}
	return r
}
