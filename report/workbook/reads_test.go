package workbook

import (
	"strings"
	"testing"

	"handback/report/grid"
)

// What a formula reads are the references in it (ECMA-376, part 1, 18.17.2.3), and nothing
// in its text, in the names of its functions or in its numbers.
func TestEachRead(t *testing.T) {
	for formula, want := range map[string]string{
		"A1+$B$2": "Here!A1 Here!B2",
		`IF(C3="A1",1E-12,"it's ""B2"" 'D4'!E5")`: "Here!C3",
		"SUM(A1:B2,D4)":                     "Here!A1 Here!B1 Here!A2 Here!B2 Here!D4",
		"'What''s read'!B2*C3":              "What's read!B2 Here!C3",
		"'Side A'!$B$2:B3":                  "Side A!B2 Side A!B3",
		"MAX(AA10,ABC1)+VALUE(MID(K7,1,4))": "Here!AA10 Here!ABC1 Here!K7",
		"handback_A1+A1x+x_A1+ABCD1+A+17":   "",
		"ATAN2(F6,F7)":                      "Here!F6 Here!F7",
		`literal&"`:                         "",
	} {
		var got []string
		eachRead("Here", formula, func(c grid.Cell) { got = append(got, c.Sheet+"!"+c.Name()) })
		if strings.Join(got, " ") != want {
			t.Errorf("%s reads %q, want %q", formula, got, want)
		}
	}
}

// A cell is taken out once.
func TestCellSet(t *testing.T) {
	s := cellSet{"Here": {wide: 2, bits: []uint64{0, 0, 1 << 3, 1 << 6}}}
	c := grid.Cell{Sheet: "Here", Row: 2, Col: 70}
	if !s.take(c) || s.take(c) || !s.take(c.In(3)) || s.take(c.In(4)) || s.take(c.Up(1)) || s.take(c.Up(2)) || s.take(c.In(200)) || s.take(grid.Cell{Sheet: "There", Row: 2, Col: 3}) {
		t.Errorf("what is left: %v", s["Here"].bits)
	}
}
