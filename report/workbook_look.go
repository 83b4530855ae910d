package report

import (
	"math"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/checks"
)

// typeface has the metrics of the widths table; readers that lack it take one of
// equal widths.
const typeface = "Arial"

// look is how a cell looks. Verdicts must be told apart in black and white, so
// nothing here is a colour: only greys, borders and weight.
type look struct {
	size   float64
	bold   bool
	mono   bool
	white  bool   // white letters, on a dark fill
	fill   string // grey, "" for none
	border string // one of the keys of borders, "" for none
	align  string // left, center or right; "" leaves it to the type of value
	middle bool   // centred between top and bottom
	format string // number format
	flat   bool   // never wrapped
	open   bool   // may be filled in where the sheet is protected
}

// borders gives the line styles of ECMA-376, 18.18.3, by our names.
var borders = map[string]int{"thin": 1, "medium": 2, "dotted": 4, "thick": 5, "double": 6, "hair": 7, "dashed": 8}

var (
	faceTitle   = look{size: 16, bold: true}
	faceHead    = look{size: 11, bold: true, fill: "D9D9D9", middle: true}
	faceSub     = look{size: 10, bold: true, border: "under", middle: true}
	faceColumn  = look{size: 8, bold: true, fill: "EDEDED", border: "thin", middle: true}
	faceText    = look{size: 9}
	faceLabel   = look{size: 9, bold: true}
	faceCell    = look{size: 9, border: "hair"}
	faceSmall   = look{size: 8}
	faceHash    = look{size: 8, mono: true, border: "hair"}
	faceStop    = look{size: 10, bold: true, border: "thick"}
	faceSigning = look{size: 9, border: "under", middle: true}
)

// verdictLook marks each verdict in its own way, so that a grey copy still tells
// them apart: pass a thin box; inconclusive a dashed box on light grey; missing a
// dotted box; fail white on black; void a double box on mid grey.
func verdictLook(v checks.Verdict) look {
	l := look{size: 9, bold: true, align: "center", middle: true}
	switch v {
	case checks.Pass:
		l.border = "thin"
	case checks.Inconclusive:
		l.border, l.fill = "dashed", "D9D9D9"
	case checks.Fail:
		l.border, l.fill, l.white = "thick", "000000", true
	case checks.Void:
		l.border, l.fill = "double", "BFBFBF"
	default:
		l.border = "dotted"
	}
	return l
}

// lookOfVerdicts lets the fill of a verdict follow its word when a formula brings
// another one. Borders stay: no rule can give them.
func (s *sheet) lookOfVerdicts() error {
	if len(s.verdicts) == 0 {
		return nil
	}
	if s.book.rules == nil {
		s.book.rules = map[checks.Verdict]int{}
	}
	var rules []excelize.ConditionalFormatOptions
	for i := range checks.Verdicts() {
		v := checks.Verdict(i)
		l := verdictLook(v)
		style := &excelize.Style{Font: &excelize.Font{Bold: true, Color: "000000"}, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"FFFFFF"}}}
		if l.white {
			style.Font.Color = "FFFFFF"
		}
		if l.fill != "" {
			style.Fill.Color[0] = l.fill
		}
		id, ok := s.book.rules[v]
		if !ok {
			var err error
			if id, err = s.book.file.NewConditionalStyle(style); err != nil {
				return err
			}
			s.book.rules[v] = id
		}
		rules = append(rules, excelize.ConditionalFormatOptions{Type: "cell", Criteria: "==", Value: verdictText(v), Format: &id})
	}
	return s.book.file.SetConditionalFormat(s.name, strings.Join(s.verdicts, " "), rules)
}

// indented tells whether a little room is kept between letters and border.
func (l look) indented() bool {
	return l.align != "center" && l.border != "" && l.border != "under"
}

// style is the workbook's number for a look; equal looks share one.
func (b *binder) style(l look) (int, error) {
	if id, ok := b.styles[l]; ok {
		return id, nil
	}
	font := &excelize.Font{Family: typeface, Size: l.size, Bold: l.bold}
	if l.mono {
		font.Family = "Courier New"
	}
	if l.white {
		font.Color = "FFFFFF"
	}
	s := &excelize.Style{Font: font, Alignment: &excelize.Alignment{WrapText: !l.flat, Vertical: "top", Horizontal: l.align}}
	if l.middle {
		s.Alignment.Vertical = "center"
	}
	if l.indented() {
		s.Alignment.Indent = 1
		if l.align == "" {
			s.Alignment.Horizontal = "left" // an indent counts only from a named side
		}
	}
	if l.fill != "" {
		s.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{l.fill}}
	}
	switch {
	case l.border == "under":
		s.Border = []excelize.Border{{Type: "bottom", Color: "000000", Style: 1}}
	case l.border != "":
		for _, side := range []string{"left", "top", "right", "bottom"} {
			s.Border = append(s.Border, excelize.Border{Type: side, Color: "000000", Style: borders[l.border]})
		}
	}
	if l.open {
		s.Protection = &excelize.Protection{Locked: false}
	}
	if l.format != "" {
		s.CustomNumFmt = &l.format
	}
	id, err := b.file.NewStyle(s)
	if err != nil {
		return 0, err
	}
	b.styles[l] = id
	return id, nil
}

// longestNumber is how many characters a number may show before it is shown with
// a power of ten: what the narrowest number column has room for.
const longestNumber = 10

// decimalsFormat is the number format that shows x with n decimals; the cell keeps
// the whole value.
func decimalsFormat(x float64, n int) string {
	text := strconv.FormatFloat(x, 'f', n, 64)
	if len(text) > longestNumber {
		return "0.0000E+00"
	}
	if n == 0 {
		return "0"
	}
	return "0." + strings.Repeat("0", n)
}

// enoughDecimals are those that six significant digits of x need.
func enoughDecimals(x float64) int {
	s := strconv.FormatFloat(x, 'g', 6, 64)
	if strings.Contains(s, "e") {
		return max(0, 5-int(math.Floor(math.Log10(math.Abs(x)))))
	}
	_, after, _ := strings.Cut(s, ".")
	return len(after)
}

// spreadDecimals show an uncertainty with two significant digits.
func spreadDecimals(u float64) int {
	if !(u > 0) || math.IsInf(u, 0) {
		return 0
	}
	return max(0, min(12, 1-int(math.Floor(math.Log10(u)))))
}

// typedDecimals counts the decimals of a bare number as typed: its last digit is
// information.
func typedDecimals(typed string) int {
	if strings.Trim(typed, "+-−.,0123456789") != "" {
		return 0
	}
	if i := strings.LastIndexAny(typed, ".,"); i >= 0 {
		return len(typed) - i - 1
	}
	return 0
}
