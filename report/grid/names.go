package grid

import (
	"bytes"
	"encoding/hex"
	"encoding/xml"
	"fmt"
	"regexp"
	"strings"
	"sync"
)

// Every verdict, judged value and reading of a handover workbook stands in a cell with
// a defined name, so that it is found whatever was done to sheets, rows and columns:
//
//	handback_job, handback_entries, handback_head   the record that is shown
//	handback_digest                          SHA-256 of the handover data
//	handback_verdict                         the verdict on the job
//	handback_result__CHECK                   the verdict of a check among the results
//	handback_stands__CHECK                   what the check stands as
//	handback_recorded__CHECK                 its verdict as recorded
//	handback_check__CHECK                    its verdict on its own sheet
//	handback_attempt__CHECK__N               the verdict of attempt N
//	handback_reading__CHECK__N__KEY          a reading, in its unit or as a word
//	handback_typed__CHECK__N__KEY            the same as it was typed
//	handback_value__CHECK__N__KEY            a value that was worked out
//	handback_judged__CHECK__N__KEY           the verdict on it
//	handback_reason__CHECK__N__I             the verdict of the I-th reason
//	handback_hold__HOLD__CHECK               the verdict of a check that a hold point waits for
//
// CHECK and HOLD are ids with _ for -, KEY the key of the reading or value in the
// handover data. A part that could be mistaken for another so is written as hex
// followed by the hexadecimal digits of its bytes. Names are made of letters, digits
// and _ alone, which every spreadsheet takes, and none looks like an address.
//
// A name, once released, keeps its meaning for ever: workbooks of every age are
// verified by it. Text too long for one cell goes on in those below, and its name
// covers them all.
const namePrefix = "handback_"

// Named gives the name of a family of cells with the parts that tell them apart.
func Named(family string, parts ...any) string {
	name := namePrefix + family
	for _, p := range parts {
		name += "__" + namePart(fmt.Sprint(p))
	}
	return name
}

var plainPart = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z0-9]+(_[a-z0-9]+)*$`) })

func namePart(s string) string {
	part := s
	if !strings.Contains(s, "_") {
		part = strings.ReplaceAll(s, "-", "_") // as ids are written
	} else if strings.Contains(s, "-") {
		part = ""
	}
	if plainPart().MatchString(part) && !strings.HasPrefix(part, "hex") {
		return part
	}
	return "hex" + hex.EncodeToString([]byte(s))
}

// As gives a box its name.
func (b Box) As(name string) Box {
	b.name = name
	return b
}

// NamedCell is where a name stands, and what the cell holds.
type NamedCell struct {
	Name  string
	sheet *Sheet
	At    Cell
	rows  int // one below the other, more than one for long text
	Value any
}

// Works tells whether a formula works the cell out.
func (n NamedCell) Works() bool {
	return n.sheet.BoxAt(n.At).Formula != "" || n.sheet.book.Late[n.At].Formula != ""
}

// note remembers the boxes of a row that have names; rows tells how many rows each
// one's text takes.
func (s *Sheet) note(first int, boxes []Box, rows func(i int) int) {
	for i, b := range boxes {
		if b.name == "" || s.book.named[b.name] { // what stands twice has one name
			continue
		}
		s.book.named[b.name] = true
		s.book.Names = append(s.book.Names, NamedCell{b.name, s, Cell{s.Name, first, b.Col}, rows(i), b.Value})
	}
}

// namesXML lists the names as the part of the workbook does (ECMA-376, part 1, 18.2.5).
// The library looks through all of them for every one that it is given.
func (b *Book) namesXML() []byte {
	var out bytes.Buffer
	for _, n := range b.Names {
		area := "$" + AbsoluteName(n.At)
		if n.rows > 1 {
			area += ":$" + AbsoluteName(Cell{n.At.Sheet, n.At.Row + n.rows - 1, n.At.Col})
		}
		out.WriteString(`<definedName name="` + n.Name + `">`) // letters, digits and _ alone
		xml.EscapeText(&out, []byte(Absolute(n.At.Sheet, area)))
		out.WriteString(`</definedName>`)
	}
	return out.Bytes()
}
