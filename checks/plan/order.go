package plan

import (
	"slices"
	"strings"
	"unicode"
)

// dead is what the steps above a place in a plan have shown of the plant worked on.
type dead struct {
	given   bool   // the plan names a permit that shows it dead
	proved  bool   // that, or a prove-dead, stands above
	begun   bool   // and a hold point under it: earth and begin work
	working bool   // dead work has begun
	live    string // the live check that last showed it energised, "" when none did
	here    bool   // dead work stands between the hold points around this place
	back    string // the check that counts back, between the same hold points
}

// order notes dead work that the steps above do not show dead: the five rules have
// the plant proved dead, earthed and handed over before anybody works on it
// (EN 50110-1). It knows a check by what its kind is, dead, live or proving.
func (n *Notes) order(p *Plan) {
	if len(p.Checks()) == 0 {
		n.Object("steps", "no check: a plan without one shows nothing, give at least one")
	}
	given := n.named("dead_shown_by", p.DeadBy, "the permit or record that shows the plant dead, such as Permit 26-437")
	d := dead{given: given, proved: given, begun: given}
	for _, it := range p.items {
		if it.Step != nil {
			continue
		}
		if it.Hold != nil {
			d.begun = d.begun || d.proved
			d.here, d.back = false, ""
			continue
		}
		n.orderOf(it.Check, &d)
	}
}

func (n *Notes) orderOf(c *Check, d *dead) {
	shown := n.named(c.Path+".dead_shown_by", c.DeadBy, "the permit or record that shows the plant dead, such as Permit 26-437")
	elsewhere := n.named(c.Path+".live_from", c.LiveFrom, "the other, live plant it is taken on, such as section A")
	switch {
	case c.Kind.Proves:
		d.proved, d.begun = true, d.given || d.begun && d.working
	case c.Kind.Dead && !shown:
		n.deadCheck(c, d)
	case c.Kind.Live && !elsewhere:
		n.liveCheck(c, d)
	}
}

// deadCheck notes what the steps above a dead check leave open.
func (n *Notes) deadCheck(c *Check, d *dead) {
	at := c.Path + ".check"
	const or = "or name the permit that shows it dead with dead_shown_by"
	switch {
	case !d.proved && d.live != "":
		n.Object(at, "check %s (%s) is dead work below live check %s: put a prove-dead and a hold point above it, %s", c.ID, c.Kind.Name, d.live, or)
	case !d.proved:
		n.Object(at, "check %s (%s) is dead work, and no prove-dead stands above it: put one there, and a hold point under it, %s", c.ID, c.Kind.Name, or)
	case !d.begun && c.Kind.Name != countsBack: // counting back ends work, it begins none
		n.Object(at, "check %s (%s) is dead work, and no hold point stands between it and the prove-dead above: put one there, such as earth and begin work, %s", c.ID, c.Kind.Name, or)
	}
	if d.back != "" && c.Kind.Name != countsBack {
		n.Object(at, "check %s (%s) is dead work below %s, which counts back what the work needed: put it above, or a hold point between", c.ID, c.Kind.Name, d.back)
	}
	if c.Kind.Name == countsBack {
		d.back = c.ID
	}
	d.here, d.working = true, true
}

// countsBack is the kind that counts back earths, locks and tools: after it nothing
// keeps the plant dead.
const countsBack = "restore"

// liveCheck takes the plant for energised from a live check on, and notes one that
// stands among dead work.
func (n *Notes) liveCheck(c *Check, d *dead) {
	if d.here {
		n.Object(c.Path+".check", "check %s (%s) is taken live among dead work: put a hold point between, the step that energises, or name the other, live plant it is taken on with live_from", c.ID, c.Kind.Name)
		return
	}
	*d = dead{live: c.ID}
}

// named tells whether a text names a document or plant, and notes one that does not.
func (n *Notes) named(path, text, wanted string) bool {
	if text == "" {
		return false
	}
	letters := 0
	for _, r := range text {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			letters++
		}
	}
	if word := strings.Join(strings.Fields(strings.ToLower(text)), " "); letters < 2 || slices.Contains(emptyReasons, word) || strings.Trim(word, word[:1]) == "" {
		n.Object(path, "%q names nothing: %s", text, wanted)
		return false
	}
	return true
}
