package grid

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf16"
)

// cellLimit is how many UTF-16 units a cell holds (ECMA-376, part 1, 18.18.93 names
// no limit; spreadsheet programs keep 32 767).
const cellLimit = 32767

// fitsCell refuses what a spreadsheet program would cut off in silence.
func fitsCell(s string) error {
	if n := len(utf16.Encode([]rune(s))); n > cellLimit {
		return fmt.Errorf("text of %d characters beginning %.40q: a cell holds %d", n, s, cellLimit)
	}
	return nil
}

// isEscape tells whether s is _xHHHH_.
func isEscape(s string) bool {
	if s[:2] != "_x" || s[6] != '_' {
		return false
	}
	_, err := strconv.ParseUint(s[2:6], 16, 16)
	return err == nil
}

// widths are the advances of the printable ASCII characters from space on in
// thousandths of the type size, for the common sans-serif with the metrics of
// Helvetica (Adobe Font Metrics for the 14 base fonts, from memory; a test compares
// them with an installed font). They only set row heights.
var widths = [...]int{278, 278, 355, 556, 556, 889, 667, 191, 333, 333, 389, 584, 278, 333, 278, 278,
	556, 556, 556, 556, 556, 556, 556, 556, 556, 556, 278, 278, 584, 584, 584, 556,
	1015, 667, 667, 722, 722, 667, 611, 778, 722, 278, 500, 667, 556, 833, 722, 778, 667, 778, 722, 667, 611, 722, 667, 944, 667, 667, 611, 278, 278, 278, 469, 556,
	333, 556, 556, 500, 556, 556, 278, 556, 556, 222, 222, 500, 222, 833, 556, 556, 556, 556, 333, 500, 278, 556, 500, 722, 500, 500, 500, 334, 260, 334, 584}

// advance is the width of r in thousandths of the type size, on the safe side for
// what the table does not hold.
func advance(r rune, l Look) int {
	w := 620
	switch {
	case l.Mono:
		return 602
	case r == '\t':
		return 2200
	case r >= ' ' && int(r-' ') < len(widths):
		w = widths[r-' ']
	case r >= 0x1100:
		w = 1020
	}
	if l.Bold {
		w = w * 108 / 100
	}
	return w
}

// linesOf wraps text at spaces, and inside words too long for a line, to lines of
// at most room points in the type of l. Every line of text gives at least one.
func linesOf(text string, room float64, l Look) []string {
	limit := int(room * 1000 / l.Size)
	var out []string
	for _, para := range strings.Split(text, "\n") {
		start, width, space, afterSpace := 0, 0, -1, 0
		for i, r := range para {
			w := advance(r, l)
			for width+w > limit && i > start && r != ' ' {
				cut := i
				if space > start {
					cut, width = space, width-afterSpace
				} else {
					width = 0
				}
				out = append(out, para[start:cut])
				start, space = cut, -1
			}
			width += w
			if r == ' ' {
				space, afterSpace = i+1, width
			}
		}
		out = append(out, para[start:])
	}
	return out
}

// fitsLine tells whether text is a single line.
func fitsLine(text string, room float64, l Look) bool {
	limit, width := int(room*1000/l.Size), 0
	for _, r := range text {
		if width += advance(r, l); r == '\n' || width > limit {
			return false
		}
	}
	return true
}

// stretches cuts wrapped lines into pieces of at most n lines each, for the rows
// that together show a text too high for one. Nothing is lost: lines of one
// paragraph are joined again as they were.
func stretches(text string, room float64, l Look, n int) (pieces []string, lines []int) {
	if fitsLine(text, room, l) { // as most do
		return []string{text}, []int{1}
	}
	paras := strings.Split(text, "\n")
	var b strings.Builder
	have := 0
	put := func(s string, count int, newline bool) {
		if newline && have > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(s)
		have += count
	}
	flush := func() {
		pieces, lines = append(pieces, b.String()), append(lines, have)
		b.Reset()
		have = 0
	}
	for p, para := range paras {
		for i, line := range linesOf(para, room, l) {
			if have == n {
				flush()
			}
			put(line, 1, i == 0 && p > 0)
		}
	}
	flush()
	return pieces, lines
}
