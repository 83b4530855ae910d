package plan

import (
	"fmt"
	"strings"
	"testing"
)

// staged is a plan of steps written as words: "dead" proves dead, "work" and "count"
// are taken on dead plant, "live" on live plant, "other" on other live plant, "look"
// on either; ":" before a word makes it a hold point, "needs" behind it what it names.
func staged(steps ...string) *Plan {
	kinds := map[string]About{"dead": {Live: true, Proves: true}, "work": {Dead: true}, "count": {Dead: true, Counts: true},
		"live": {Live: true, Joins: true}, "other": {Live: true}, "look": {}}
	p := &Plan{}
	var above []string
	var items []Item
	for i, step := range steps {
		word, needs, named := strings.Cut(step, " needs ")
		id := fmt.Sprintf("%s%d", strings.Trim(word, ":"), i)
		if strings.HasPrefix(word, ":") {
			h := &Hold{Step: Step{ID: id}, Needs: append([]string{}, above...)}
			if named {
				h.Needs = strings.Fields(needs)
			}
			items = append(items, Item{Hold: h})
			continue
		}
		c := &Check{ID: id, Kind: &Traits{About: kinds[word]}}
		if word == "other" {
			c.LiveFrom = "section B, fed from T1"
		}
		above = append(above, id)
		items = append(items, Item{Check: c})
	}
	p.lay(items)
	p.stageNeeds()
	return p
}

// The stages of hold points follow from what stands around them (our choice; the
// order of the acts: EN 50110-1, make dead, prove, earth, work, give back).
func TestStageOf(t *testing.T) {
	for _, c := range []struct {
		steps string
		want  string // the stage of each hold, w begin work, e energise, - onward
	}{
		{"dead :a work count :b live :c", "w e -"},
		{"dead :a live", "e"},
		{"dead dead :a work :b work count :c live :d live", "w w e -"},
		{"dead :a work :b :c look live", "w e e"},
		{"dead :a work", "w"},
		{"dead :a work :b", "w e"},
		{"live :a live", "-"},
		{"dead :a other work :b live", "w e"},
		{"dead :a work :b live :c dead :d work :e live", "w e - w e"},
		{"look :a dead :b work :c live", "- w e"},
		{":a look", "-"},
	} {
		p := staged(strings.Fields(c.steps)...)
		var got []string
		for _, it := range p.Items() {
			if it.Hold != nil {
				got = append(got, map[Stage]string{Onward: "-", BeginWork: "w", Energise: "e"}[p.StageOf(it.Hold)])
			}
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s: %s, want %s", c.steps, s, c.want)
		}
	}
}

// A plan may add to what a stage needs, never take away.
func TestStageNeeds(t *testing.T) {
	p := staged("look", "dead", ":work needs look0", "work", "look", "count", ":on needs count5", "live", "look", ":close needs look8")
	want := []string{"look0 dead1", "look0 dead1 work3 look4 count5", "dead1 work3 count5 live7 look8"}
	var got []string
	for _, it := range p.Items() {
		if it.Hold != nil {
			got = append(got, strings.Join(it.Hold.Needs, " "))
		}
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("hold %d needs %s, want %s", i+1, got[i], want[i])
		}
	}
	if h := p.Hold("on6"); strings.Join(h.Added, " ") != "look0 dead1 work3 look4" {
		t.Errorf("added %v", h.Added)
	}
}

// Nothing live is read on plant that is earthed: a live check above a stretch of dead
// plant, taken again, waits until that stretch has its volts back (EN 50110-1: earthed
// plant is dead).
func TestEarthedFrom(t *testing.T) {
	for _, c := range []struct{ steps, check, begin, energise string }{
		{"live dead :a work :b live", "live0", ":a", ":b"},
		{"live dead :a work :b live", "live5", "", ""},
		{"dead :a work :b live dead :c work :d live", "live4", ":c", ":d"},
		{"dead :a work :b live dead :c work :d live", "live9", "", ""},
		{"dead :a other work :b live", "other2", "", ""},
		{"dead :a work :b live dead :c work :d live", "dead5", "", ""},
	} {
		p := staged(strings.Fields(c.steps)...)
		begin, energise := p.EarthedFrom(p.Check(c.check))
		names := func(holds []*Hold) string {
			out := ""
			for _, h := range holds {
				out += ":" + strings.TrimRight(h.ID, "0123456789")
			}
			return out
		}
		if names(begin) != c.begin || names(energise) != c.energise {
			t.Errorf("%s, %s: begun behind %q, on behind %q; want %q, %q", c.steps, c.check, names(begin), names(energise), c.begin, c.energise)
		}
	}
}
