package grid

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
)

// What was laid out is found again, whether it is in memory or in the file, in whatever
// order it is asked for; the file goes with the book.
func TestBook_keeps_more_than_memory_holds(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir())
	b := NewBook("x", "x", time.Time{})
	s := b.Sheet("Rows")
	s.Widths = []float64{20, 20, 20}
	text := func(i int) string { return fmt.Sprint(i, strings.Repeat(" text", 300)) }
	const rows = 15_000
	for i := range rows {
		box := At(1, text(i), Look{Size: 9, Flat: true})
		box.Formula = "B1"
		s.Add(box, At(2, i, FaceCell).As(fmt.Sprintf("handback_row__%d", i)))
		s.Beside(i+1, At(3, float64(i)/8, FaceCell))
	}
	if b.store.file == nil || b.store.held > mostHeld || b.store.end < 2*chunkSize {
		t.Fatalf("%d bytes are held, %d in a file", b.store.held, b.store.end)
	}
	for _, i := range []int{rows - 1, 0, rows / 2} {
		s.Later(Cell{s.Name, i + 1, 1}, "C1", "")
		s.Later(Cell{s.Name, i + 1, 1}, "C2", "later")
	}
	for i := range rows {
		n := i * 7919 % rows // a prime: every row comes once
		want := []any{text(n), "B1", n, "", float64(n) / 8, ""}
		if n == 0 || n == rows-1 || n == rows/2 {
			want[0], want[1] = "later", "C2"
		}
		var got []any
		for _, box := range s.Boxes(n + 1) {
			got = append(got, box.Value, box.Formula)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("row %d (-want +got):\n%s", n+1, diff)
		}
	}
	if names := b.Named(); len(names) != rows || names[rows-1].Value != rows-1 || names[rows-1].At != (Cell{s.Name, rows, 2}) {
		t.Errorf("%d names, the last is %+v", len(names), names[len(names)-1])
	}
	b.Close()
	if left, err := os.ReadDir(os.Getenv("TMPDIR")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// Where no file can be made everything stays in memory.
func TestBook_without_room_on_the_disk(t *testing.T) {
	t.Setenv("TMPDIR", "/nowhere/at/all")
	b := NewBook("x", "x", time.Time{})
	defer b.Close()
	p := pile{in: &b.store}
	record := make([]byte, chunkSize)
	var at []place
	for i := range 2 * mostHeld / chunkSize {
		record[0] = byte(i)
		at = append(at, p.put(record))
	}
	for i, a := range at {
		if got := p.from(a); got[0] != byte(i) || len(got) != chunkSize {
			t.Fatalf("record %d begins with %d and has %d bytes", i, got[0], len(got))
		}
	}
}

// A box is not kept: what a row takes is what stands in it.
func TestSheet_takes_little_a_cell(t *testing.T) {
	b := NewBook("x", "x", time.Time{})
	defer b.Close()
	s := b.Sheet("Rows")
	s.Widths = []float64{20, 20}
	for range 1000 {
		s.Add(At(1, "volts", FaceCell), Number(2, 432.6, 1, ""))
	}
	if a := testing.AllocsPerRun(100, func() { s.boxes(500) }); a > 0 {
		t.Errorf("looking at a row allocates %v times", a)
	}
	if kept := len(s.pile.chunks)*chunkSize + len(s.pile.open); kept > 1000*45 {
		t.Errorf("1000 rows of two cells take %d bytes", kept)
	}
}
