package grid

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/xml"
	"fmt"
	"io"
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
	At    Cell
	Value any
	Works bool // a formula works the cell out
}

// note remembers the boxes of a row that have names; rows tells how many rows each
// one's text takes.
func (s *Sheet) note(first int, boxes []Box, rows func(i int) int) {
	for i, b := range boxes {
		if b.name == "" || s.book.named[hashed(b.name)] { // what stands twice has one name
			continue
		}
		s.book.named[hashed(b.name)] = true
		r := appendText(s.record[:0], b.name)
		for _, n := range []int{s.no, first, b.Col, rows(i)} {
			r = binary.AppendUvarint(r, uint64(n))
		}
		s.record = appendValue(r, b.Value, "", 0)
		s.book.names.put(s.record)
	}
}

// hashed stands for a name: there may be many, and they are long.
func hashed(name string) [16]byte {
	sum := sha256.Sum256([]byte(name))
	return [16]byte(sum[:])
}

// eachName goes through the names in the order they were given, with how many rows each
// covers, more than one for long text, and with what its cell held when it was laid out.
func (b *Book) eachName(do func(name string, s *Sheet, at Cell, rows int, is kept) error) error {
	return b.names.each(func(data []byte) error {
		for t := taking(data); len(t) > 0; {
			name, s, at := string(t.text()), b.all[t.count()], Cell{}
			at.Sheet, at.Row, at.Col = s.Name, t.count(), t.count()
			rows, is := t.count(), kept{}
			t.value(&is)
			if err := do(name, s, at, rows, is); err != nil {
				return err
			}
		}
		return nil
	})
}

// Named are all cells with names.
func (b *Book) Named() (out []NamedCell) {
	b.eachName(func(name string, s *Sheet, at Cell, _ int, is kept) error {
		out = append(out, NamedCell{name, at, s.box(is).Value, s.BoxAt(at).Formula != ""})
		return nil
	})
	return out
}

// writeNames lists the names as the part of the workbook does (ECMA-376, part 1, 18.2.5).
// The library looks through all of them for every one that it is given.
func (b *Book) writeNames(w io.Writer) error {
	var out bytes.Buffer
	return b.eachName(func(name string, _ *Sheet, at Cell, rows int, _ kept) error {
		out.Reset()
		area := "$" + AbsoluteName(at)
		if rows > 1 {
			area += ":$" + AbsoluteName(Cell{at.Sheet, at.Row + rows - 1, at.Col})
		}
		out.WriteString(`<definedName name="` + name + `">`) // letters, digits and _ alone
		xml.EscapeText(&out, []byte(Absolute(at.Sheet, area)))
		out.WriteString(`</definedName>`)
		_, err := w.Write(out.Bytes())
		return err
	})
}
