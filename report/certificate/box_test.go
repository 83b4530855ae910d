package certificate

import (
	"bytes"
	"image/png"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/checks/plan"
	"handback/report"
)

// Each role signs in a box of its own: by key as recorded, doubts with it; a box stays
// where nobody is named, but that of witnesses.
func TestBoxes(t *testing.T) {
	d := &report.Document{
		People: []plan.Person{{ID: "ada", Name: "Ada Example", Role: "technician", Firm: "Example Testing"}, {ID: "ben", Name: "Ben Example", Role: "technician"}, {ID: "eva", Name: "Eva Muster", Role: "engineer"}},
		Signatures: []report.SignatureLine{
			{Person: "ben", Role: "technician", When: "2026-03-02 08:00:00 +01:00", Key: "SHA256:abcdefghijklmnopqrstuvwxyz"},
			{Person: "eva", Role: "owner", When: "2026-03-02 09:00:00 +01:00", Key: "SHA256:as another role"},
			{Person: "eva", Role: "engineer", When: "2026-03-02 09:00:00 +01:00", Key: "SHA256:second", Doubt: "it fits other bytes"},
		},
	}
	type signed struct {
		Act    string
		People []Signer
	}
	said := func() (out []signed) {
		for _, b := range Boxes(d) {
			if b.Means == "" {
				t.Errorf("%s: a signature that says nothing", b.Act)
			}
			out = append(out, signed{b.Act, b.People})
		}
		return out
	}
	want := []signed{
		{"Tested", []Signer{{Name: "Ada Example", Role: "technician", Firm: "Example Testing"}, {Name: "Ben Example", Role: "technician", Signed: "by key SHA256:abcdefghijkl, 2026-03-02 08:00:00 +01:00"}}},
		{"Checked", []Signer{{Name: "Eva Muster", Role: "engineer", Signed: "by key SHA256:second, 2026-03-02 09:00:00 +01:00", Doubt: "it fits other bytes"}}},
		{"Accepted", nil},
	}
	if diff := cmp.Diff(want, said()); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	d.People = append(d.People, plan.Person{ID: "odo", Name: "Odo Invent", Role: "witness"})
	if got := said(); len(got) != 4 || got[3].Act != "Witnessed" {
		t.Errorf("with a witness: %v", got)
	}
}

// What departs from the plan is counted, and nothing else; that there is nothing is said.
func TestStatements_departures(t *testing.T) {
	of := func(d *report.Document) string {
		for _, s := range Statements(d) {
			if s[0] == "departures" {
				return s[1]
			}
		}
		t.Fatal("no word of departures")
		return ""
	}
	if got := of(&report.Document{}); got != "No amendment, concession, override or repeat." {
		t.Errorf("of nothing: %q", got)
	}
	d := &report.Document{Overrides: []string{"x"}, Amendments: make([]report.AmendmentLine, 2),
		Groups: []report.Group{{Checks: []report.CheckPage{{Attempts: make([]report.AttemptPage, 3)}, {Attempts: make([]report.AttemptPage, 1)}, {}}}}}
	if got := of(d); !strings.HasPrefix(got, "2 amendments of the plan, 1 override, 2 repeated attempts;") {
		t.Errorf("got %q", got)
	}
}

// The square code has the size of a version, its three finder patterns and a rim
// (ISO/IEC 18004:2015, 5.3.1.1 and 5.3.3), and as many versions as its text needs.
func TestCode(t *testing.T) {
	hash := strings.Repeat("0123456789abcdef", 4)
	d := &report.Document{Job: "t2-return-1", Entries: 139, Head: hash, Digest: hash}
	if text := CodeText(d); strings.Count(text, hash) != 2 || !strings.Contains(text, "t2-return-1") || !strings.Contains(text, "139") {
		t.Errorf("it holds %q", text)
	}
	p, err := Code(d)
	if err != nil {
		t.Fatal(err)
	}
	m, err := png.Decode(bytes.NewReader(p.Content))
	if err != nil || m.Bounds().Dx() != p.Width || m.Bounds().Dy() != p.Height {
		t.Fatalf("%v, said to be %d × %d: %v", m.Bounds(), p.Width, p.Height, err)
	}
	const rim, finder = 4, 7
	side, scale := 0, 0
	for scale = 1; scale < 32; scale++ { // modules are as wide as a side of the first pattern has it
		if r, _, _, _ := m.At(rim*scale, rim*scale).RGBA(); r == 0 && p.Width%scale == 0 && (p.Width/scale-2*rim-17)%4 == 0 {
			side = p.Width/scale - 2*rim
			break
		}
	}
	black := func(x, y int) bool {
		r, _, _, _ := m.At((rim+x)*scale+scale/2, (rim+y)*scale+scale/2).RGBA()
		return r == 0
	}
	for _, at := range [][2]int{{0, 0}, {side - finder, 0}, {0, side - finder}} {
		for y := range finder {
			for x := range finder {
				ring := max(x-3, 3-x, y-3, 3-y)
				if black(at[0]+x, at[1]+y) != (ring != 2) {
					t.Fatalf("side %d: the finder pattern at %v is broken at %d, %d", side, at, x, y)
				}
			}
		}
	}
	// Some 165 bytes at level M: version 9 holds 180, version 8 only 152 (table 7, from memory).
	if version := (side - 17) / 4; version < 9 || version > 10 {
		t.Errorf("version %d for %d bytes", version, len(CodeText(d)))
	}
}
