package certificate

import (
	"handback/report"
)

// Box is where people sign for one thing, by key or by pen.
type Box struct {
	Act    string   // what is signed for, in a word
	Means  string   // what a signature here says
	People []Signer // those of the plan who may
}

// Signer is a person with the signature by key, if there is one.
type Signer struct {
	Name, Role, Firm string
	Signed           string // when and by which key, "" when by pen or not yet
	Doubt            string // why it is not shown to be good
}

// acts are the boxes with the roles that sign in them. The sentences are our choice.
var acts = []struct{ act, means, role string }{
	{"Tested", "I took the readings named here, or saw them taken, with the instruments named, and recorded them as read.", "technician"},
	{"Checked", "I went through readings, verdicts and open points: they hold for the plant named, by the rule and the limits named.", "engineer"},
	{"Accepted", "I take over the plant named as this certificate shows it, with its concessions and its open points.", "owner"},
	{"Witnessed", "I was there and saw it done.", "witness"},
}

// Boxes are the three boxes that every certificate has, and one for witnesses where the
// plan names any.
func Boxes(d *report.Document) []Box {
	var out []Box
	for _, a := range acts {
		b := Box{Act: a.act, Means: a.means}
		for _, p := range d.People {
			if p.Role != a.role {
				continue
			}
			s := Signer{Name: p.Name, Role: p.Role, Firm: p.Firm}
			for _, g := range d.Signatures {
				if g.Person == p.ID && g.Role == a.role {
					s.Signed, s.Doubt = "by key "+shortKey(g.Key)+", "+g.When, g.Doubt
				}
			}
			b.People = append(b.People, s)
		}
		if len(b.People) > 0 || a.role != "witness" {
			out = append(out, b)
		}
	}
	return out
}

// shortKey is enough of a fingerprint to compare by eye.
func shortKey(key string) string { return report.CutRunes(key, 19) }
