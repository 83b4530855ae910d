package grid

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/checks"
)

// Typeface has the metrics of the widths table; readers that lack it take one of
// equal widths.
const Typeface = "Arial"

// Look is how a cell looks. Verdicts must be told apart in black and white, so
// nothing here is a colour: only greys, borders and weight.
type Look struct {
	Size   float64
	Bold   bool
	Mono   bool
	White  bool   // white letters, on a dark fill
	Fill   string // grey, "" for none
	Border string // one of the keys of borders, "" for none
	Align  string // left, center or right; "" leaves it to the type of value
	Middle bool   // centred between top and bottom
	Format string // number format
	Flat   bool   // never wrapped
	Fit    bool   // letters as small as its width needs
	Snug   bool   // no room between letters and border
	Open   bool   // may be filled in, where all else is locked
	Leads  bool   // underlined, as what leads elsewhere is
}

// borders gives the line styles of ECMA-376, 18.18.3, by our names.
var borders = map[string]int{"thin": 1, "medium": 2, "dotted": 4, "thick": 5, "double": 6, "hair": 7, "dashed": 8}

// Faces are the looks that sheets share.
var (
	FaceTitle   = Look{Size: 16, Bold: true}
	FaceHead    = Look{Size: 11, Bold: true, Fill: "D9D9D9", Middle: true}
	FaceSub     = Look{Size: 10, Bold: true, Border: "under", Middle: true}
	FaceColumn  = Look{Size: 8, Bold: true, Fill: "EDEDED", Border: "thin", Middle: true}
	FaceText    = Look{Size: 9}
	FaceLabel   = Look{Size: 9, Bold: true}
	FaceCell    = Look{Size: 9, Border: "hair"}
	FaceSmall   = Look{Size: 8}
	FaceHash    = Look{Size: 8, Mono: true, Border: "hair"}
	FaceStop    = Look{Size: 10, Bold: true, Border: "thick"}
	FaceSigning = Look{Size: 9, Border: "under", Middle: true}
)

// VerdictLook marks each verdict in its own way, so that a grey copy still tells
// them apart: pass a thin box; inconclusive a dashed box on light grey; missing a
// dotted box; fail white on black; void a double box on mid grey.
func VerdictLook(v checks.Verdict) Look {
	l := Look{Size: 9, Bold: true, Align: "center", Middle: true, Flat: true, Fit: true} // a longer word may come
	switch v {
	case checks.Pass:
		l.Border = "thin"
	case checks.Inconclusive:
		l.Border, l.Fill = "dashed", "D9D9D9"
	case checks.Fail:
		l.Border, l.Fill, l.White = "thick", "000000", true
	case checks.Void:
		l.Border, l.Fill = "double", "BFBFBF"
	default:
		l.Border = "dotted"
	}
	return l
}

// ruleAreas is how many areas one rule names: the library takes the square of the time
// for them.
const ruleAreas = 100

// lookOfVerdicts lets the fill of a verdict follow its word when a formula brings
// another one. Borders stay: no rule can give them.
func (s *Sheet) lookOfVerdicts() error {
	if len(s.verdicts) == 0 {
		return nil
	}
	if s.book.rules == nil {
		s.book.rules = map[checks.Verdict]int{}
	}
	var rules []excelize.ConditionalFormatOptions
	for i := range checks.Verdicts() {
		v := checks.Verdict(i)
		l := VerdictLook(v)
		style := &excelize.Style{Font: &excelize.Font{Bold: true, Color: "000000"}, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"FFFFFF"}}}
		if l.White {
			style.Font.Color = "FFFFFF"
		}
		if l.Fill != "" {
			style.Fill.Color[0] = l.Fill
		}
		id, ok := s.book.rules[v]
		if !ok {
			var err error
			if id, err = s.book.File.NewConditionalStyle(style); err != nil {
				return err
			}
			s.book.rules[v] = id
		}
		rules = append(rules, excelize.ConditionalFormatOptions{Type: "cell", Criteria: "==", Value: VerdictText(v), Format: &id})
	}
	open := s.book.rules[checks.Inconclusive]
	rules = append(rules, excelize.ConditionalFormatOptions{Type: "cell", Criteria: "==", Value: Quoted(checks.Unreached), Format: &open})
	for part := range slices.Chunk(s.verdicts, ruleAreas) {
		areas := make([]string, len(part))
		for i, x := range part {
			areas[i] = x.name()
		}
		if err := s.book.File.SetConditionalFormat(s.Name, strings.Join(areas, " "), rules); err != nil {
			return err
		}
	}
	return nil
}

// indented tells whether a little room is kept between letters and border.
func (l Look) indented() bool {
	return !l.Snug && l.Align != "center" && l.Border != "" && l.Border != "under"
}

// usedLook is a look that some box has.
type usedLook struct {
	Look
	style int // the workbook's number for it and 1, 0 as long as it has none
	leads int // the same look of what leads elsewhere, 0 as long as none does
}

// lookOf is the number of a look; equal looks share one. Boxes hold numbers: a look is
// large, and there are few.
func (b *Book) lookOf(l Look) int {
	n, ok := b.numbers[l]
	if !ok {
		n = len(b.looks)
		b.numbers[l], b.looks = n, append(b.looks, usedLook{Look: l})
	}
	return n
}

// leading is the look of what leads elsewhere and had a look.
func (b *Book) leading(n int) int {
	if b.looks[n].leads == 0 {
		l := b.looks[n].Look
		l.Leads = true
		b.looks[n].leads = b.lookOf(l)
	}
	return b.looks[n].leads
}

// style is the workbook's number for a look.
func (b *Book) style(n int) (int, error) {
	if id := b.looks[n].style; id > 0 {
		return id - 1, nil
	}
	l := b.looks[n].Look
	font := &excelize.Font{Family: Typeface, Size: l.Size, Bold: l.Bold}
	if l.Mono {
		font.Family = "Courier New"
	}
	if l.White {
		font.Color = "FFFFFF"
	}
	if l.Leads {
		font.Underline = "single"
	}
	s := &excelize.Style{Font: font, Alignment: &excelize.Alignment{WrapText: !l.Flat, ShrinkToFit: l.Fit, Vertical: "top", Horizontal: l.Align}}
	if l.Middle {
		s.Alignment.Vertical = "center"
	}
	if l.indented() {
		s.Alignment.Indent = 1
		if l.Align == "" {
			s.Alignment.Horizontal = "left" // an indent counts only from a named side
		}
	}
	if l.Fill != "" {
		s.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{l.Fill}}
	}
	switch {
	case l.Border == "under":
		s.Border = []excelize.Border{{Type: "bottom", Color: "000000", Style: 1}}
	case l.Border != "":
		for _, side := range []string{"left", "top", "right", "bottom"} {
			s.Border = append(s.Border, excelize.Border{Type: side, Color: "000000", Style: borders[l.Border]})
		}
	}
	if l.Open {
		s.Protection = &excelize.Protection{Locked: false}
	}
	if l.Format != "" {
		s.CustomNumFmt = new(l.Format)
	}
	id, err := b.File.NewStyle(s)
	if err != nil {
		return 0, err
	}
	b.looks[n].style = id + 1
	return id, nil
}

// longestNumber is how many characters a number may show before it is shown with
// a power of ten: what the narrowest number column has room for.
const longestNumber = 10

// DecimalsFormat is the number format that shows x with n decimals; the cell keeps
// the whole value.
func DecimalsFormat(x float64, n int) string {
	text := strconv.FormatFloat(x, 'f', n, 64)
	if len(text) > longestNumber {
		return "0.0000E+00"
	}
	if n == 0 {
		return "0"
	}
	return "0." + strings.Repeat("0", n)
}

// OrAtZero is a number format that shows words in place of 0.
func OrAtZero(format, words string) string { return format + ";-" + format + ";" + Quoted(words) }

// EnoughDecimals are those that six significant digits of x need.
func EnoughDecimals(x float64) int {
	s := strconv.FormatFloat(x, 'g', 6, 64)
	if strings.Contains(s, "e") {
		return max(0, 5-int(math.Floor(math.Log10(math.Abs(x)))))
	}
	_, after, _ := strings.Cut(s, ".")
	return len(after)
}

// SpreadDecimals show an uncertainty with two significant digits.
func SpreadDecimals(u float64) int {
	if !(u > 0) || math.IsInf(u, 0) {
		return 0
	}
	return max(0, min(12, 1-int(math.Floor(math.Log10(u)))))
}

// mostQuoted is how many signs a text constant of a formula may have and a little less
// (spreadsheet programs keep 255).
const mostQuoted = 240

// Quoted is a text as a formula has it: a constant, several joined where it is long.
func Quoted(s string) string {
	var out []string
	r := []rune(s)
	for len(r) > mostQuoted {
		out, r = append(out, quoted(string(r[:mostQuoted]))), r[mostQuoted:]
	}
	return strings.Join(append(out, quoted(string(r))), "&")
}

func quoted(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

// WordOf is a verdict as a cell shows it.
func WordOf(v checks.Verdict) string { return v.Shown() }

// VerdictText is a verdict as a formula names it.
func VerdictText(v checks.Verdict) string { return Quoted(WordOf(v)) }
