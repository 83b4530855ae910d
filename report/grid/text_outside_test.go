package grid

import (
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"handback/testdata/outside"
)

// The widths that row heights rest on agree with a font of the same metrics, read
// from its tables (ISO/IEC 14496-22: head, hhea, hmtx, cmap format 4).
func TestOutside_widths_are_those_of_the_font(t *testing.T) {
	const path = "/usr/share/fonts/truetype/liberation/LiberationSans-Regular.ttf"
	data, err := os.ReadFile(path)
	if errors.Is(err, os.ErrNotExist) {
		outside.Missing(t, "font "+filepath.Base(path), err)
	}
	if err != nil {
		t.Fatal(err)
	}
	f := font{data, map[string]int{}}
	for i := range f.u16(4) {
		record := 12 + 16*i
		f.tables[string(data[record:record+4])] = f.u32(record + 8)
	}
	for i, want := range widths {
		if got := f.advance(t, ' '+i) * 1000 / f.u16(f.tables["head"]+18); got < want-1 || got > want+1 {
			t.Errorf("%q is %d wide in the font, %d here", rune(' '+i), got, want)
		}
	}
}

type font struct {
	data   []byte
	tables map[string]int
}

func (f font) u16(at int) int { return int(binary.BigEndian.Uint16(f.data[at:])) }

func (f font) u32(at int) int { return int(binary.BigEndian.Uint32(f.data[at:])) }

// advance looks a character up in a cmap of format 4 and gives its width in units.
func (f font) advance(t *testing.T, char int) int {
	cmap := f.tables["cmap"]
	for i := range f.u16(cmap + 2) {
		sub := cmap + f.u32(cmap+4+8*i+4)
		if f.u16(sub) != 4 {
			continue
		}
		segments := f.u16(sub+6) / 2
		ends, starts, deltas, offsets := sub+14, sub+16+2*segments, sub+16+4*segments, sub+16+6*segments
		for s := range segments {
			first := f.u16(starts + 2*s)
			if char > f.u16(ends+2*s) || char < first {
				continue
			}
			glyph := char
			if o := f.u16(offsets + 2*s); o != 0 {
				glyph = f.u16(offsets + 2*s + o + 2*(char-first))
			}
			glyph = (glyph + f.u16(deltas+2*s)) & 0xffff
			glyph = min(glyph, f.u16(f.tables["hhea"]+34)-1)
			return f.u16(f.tables["hmtx"] + 4*glyph)
		}
	}
	t.Fatalf("the font has no %q", rune(char))
	return 0
}
