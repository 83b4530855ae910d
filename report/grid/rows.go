package grid

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"handback/report"
)

// frame brings all of a sheet but its rows into the workbook: they are written when it is
// packed. The settings go before: what is set later is dropped by the library without a
// word.
func (s *Sheet) frame() error {
	for _, set := range []func() error{s.settings, s.lookOfVerdicts, s.protect, s.lead, s.drawCharts, s.draw} {
		if err := set(); err != nil {
			return fmt.Errorf("sheet %s: %w", s.Name, err)
		}
	}
	w, err := s.book.File.NewStreamWriter(s.Name)
	if err != nil {
		return fmt.Errorf("sheet %s: %w", s.Name, err)
	}
	for i := range s.Rows {
		if err := s.frameRow(w, i+1); err != nil {
			return fmt.Errorf("sheet %s, row %d: %w", s.Name, i+1, err)
		}
	}
	for _, row := range s.breaks() {
		if err := w.InsertPageBreak(Cell{s.Name, row, 1}.Name()); err != nil {
			return fmt.Errorf("sheet %s: %w", s.Name, err)
		}
	}
	return w.Flush()
}

// frameRow merges the cells of a row that boxes take, has their looks in the workbook, and
// refuses what no cell holds.
func (s *Sheet) frameRow(w *excelize.StreamWriter, row int) error {
	if s.Rows[row-1].Height > excelize.MaxRowHeight {
		return excelize.ErrMaxRowHeight
	}
	for _, k := range s.boxes(row) {
		if len(k.text) > cellLimit {
			if err := fitsCell(string(k.text)); err != nil {
				return err
			}
		}
		if _, err := s.book.style(k.look); err != nil {
			return err
		}
		if k.span > 1 {
			if err := w.MergeCell(Cell{s.Name, row, k.col}.Name(), Cell{s.Name, row, k.col + k.span - 1}.Name()); err != nil {
				return err
			}
		}
	}
	return nil
}

// writeRows writes the rows as the part of the sheet has them (ECMA-376, part 1, 18.3.1.73),
// in the form in which the library would, and mended where readers would not take that.
func (s *Sheet) writeRows(w io.Writer) error {
	columns := make([]string, len(s.Widths))
	for i := range columns {
		columns[i] = strings.TrimSuffix(Cell{s.Name, 1, i + 1}.Name(), "1")
	}
	styles, values := make([]int, len(columns)), make([]*kept, len(columns))
	var out []byte
	for i, l := range s.Rows {
		clear(styles)
		clear(values)
		boxes := s.boxes(i + 1)
		for n := range boxes {
			k := &boxes[n]
			for c := k.col; c < k.col+k.span; c++ {
				styles[c-1], values[c-1] = s.book.looks[k.look].style, nil
			}
			values[k.col-1] = k
		}
		number := strconv.Itoa(i + 1)
		out = append(append(append(out, `<row r="`...), number...), '"')
		if l.Height > 0 {
			out = append(strconv.AppendFloat(append(out, ` ht="`...), l.Height, 'f', -1, 64), `" customHeight="1"`...)
		}
		out = append(out, '>')
		for c, style := range styles {
			if style > 0 {
				out = s.appendCell(out, columns[c]+number, style-1, values[c])
			}
		}
		out = append(out, `</row>`...)
		if len(out) > chunkSize {
			if _, err := w.Write(out); err != nil {
				return err
			}
			out = out[:0]
		}
	}
	_, err := w.Write(out)
	return err
}

// appendCell writes a cell. Results that are errors are marked as such: as text, which the
// library makes of them, no formula would take them for what they are.
func (s *Sheet) appendCell(out []byte, ref string, style int, k *kept) []byte {
	out = append(out, `<c`...)
	number, text, inline := "", []byte(nil), false
	if k != nil {
		number, text = k.shown(s)
		inline = text != nil && (len(k.formula) == 0 || k.sort == valueNumber)
		if text != nil && !inline && spaced(text) {
			out = append(out, ` xml:space="preserve"`...)
		}
	}
	out = append(append(append(out, ` r="`...), ref...), `" s="`...)
	out = append(strconv.AppendInt(out, int64(style), 10), '"')
	switch {
	case k == nil:
	case inline:
		out = append(out, ` t="inlineStr"`...)
	case len(k.formula) > 0 && string(text) == NoNumber:
		out = append(out, ` t="e"`...)
	case len(k.formula) > 0 && number == "":
		out = append(out, ` t="str"`...)
	}
	out = append(out, '>')
	if k != nil && len(k.formula) > 0 {
		out = append(appendEscaped(append(out, `<f>`...), k.formula, false), `</f>`...)
	}
	switch {
	case number != "":
		out = append(append(append(out, `<v>`...), number...), `</v>`...)
	case inline && spaced(text):
		out = append(appendGuarded(append(out, `<is><t xml:space="preserve">`...), text, true), `</t></is>`...)
	case inline:
		out = append(appendGuarded(append(out, `<is><t>`...), text, true), `</t></is>`...)
	case len(text) > 0:
		out = append(appendGuarded(append(out, `<v>`...), text, false), `</v>`...)
	}
	return append(out, `</c>`...)
}

// shown is what a cell holds: a number, or text, which is nil where it holds none.
func (k *kept) shown(s *Sheet) (number string, text []byte) {
	switch k.sort {
	case valueText:
		if s.book.looks[k.look].Flat { // Add has made all others plain
			return "", []byte(report.Plain(string(k.text)))
		}
		return "", k.text
	case valueWhole:
		return strconv.Itoa(k.whole), nil
	case valueNumber:
		if math.IsNaN(k.number) || math.IsInf(k.number, 0) {
			return "", fmt.Append(nil, k.number)
		}
		digits := strconv.FormatFloat(k.number, 'f', -1, 64)
		if math.Abs(k.number) < math.MaxFloat64 { // cut, that would be another number
			digits = fifteen(digits)
		}
		return digits, nil
	}
	return "", nil
}

// fifteen cuts the digits of a number after the fifteenth, which is what spreadsheets hold.
func fifteen(digits string) string {
	if len(digits) <= 15 {
		return digits
	}
	point, counted := strings.IndexByte(digits, '.'), 0
	for i := range len(digits) {
		if digits[i] < '0' || digits[i] > '9' || counted == 0 && digits[i] == '0' {
			continue
		}
		if counted++; counted <= 15 {
			continue
		}
		if point >= 0 && i > point {
			return strings.TrimSuffix(digits[:i], ".")
		}
		if point < 0 {
			point = len(digits)
		}
		return digits[:i] + strings.Repeat("0", point-i)
	}
	return digits
}

// spaced tells whether readers might drop blanks at an end of a text.
func spaced(text []byte) bool {
	blank := func(c byte) bool { return c == '\t' || c == '\n' || c == '\r' || c == ' ' }
	return len(text) > 0 && (blank(text[0]) || blank(text[len(text)-1]))
}

// appendGuarded writes text of a cell. What a reader would take for an escaped character,
// such as _x000D_ (ECMA-376, part 1, 22.9.2.19), is escaped itself.
func appendGuarded(out, text []byte, lines bool) []byte {
	if bytes.Contains(text, []byte("_x")) {
		done := 0
		for i := 0; i+7 <= len(text); i++ {
			if isEscape(string(text[i : i+7])) {
				out = append(appendEscaped(out, text[done:i], lines), "_x005F_"...)
				done = i + 1
			}
		}
		text = text[done:]
	}
	return appendEscaped(out, text, lines)
}

// appendEscaped writes text as XML holds it; with lines, ends of lines as they are.
func appendEscaped(out, text []byte, lines bool) []byte {
	ascii, plain := true, true
	for _, c := range text {
		if c < ' ' && !(lines && c == '\n') || c == '"' || c == '\'' || c == '&' || c == '<' || c == '>' {
			plain = false
			break
		}
		ascii = ascii && c < utf8.RuneSelf
	}
	if plain && (ascii || utf8.Valid(text) && !bytes.Contains(text, []byte("\xef\xbf"))) { // U+FFFE and U+FFFF are no characters
		return append(out, text...)
	}
	var b bytes.Buffer
	xml.EscapeText(&b, text) // a buffer takes everything
	if lines {
		return append(out, bytes.ReplaceAll(b.Bytes(), []byte("&#xA;"), []byte("\n"))...)
	}
	return append(out, b.Bytes()...)
}
