package grid

import (
	"encoding/xml"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"handback/checks/quantity"
)

// Bounds of a sheet: no cell with content may stand beyond them.
const (
	MaxRows    = 20_000
	maxColumns = 256
)

// FileCell is what a cell of a workbook from outside holds.
type FileCell struct {
	Text    string
	Number  bool
	X       float64
	Shows   numberStyle // how a number is shown
	Fault   string      // why it holds no value: a spreadsheet error, a logical value
	Formula string      // "" when it holds none; begins with =
}

// numberStyle tells what a number format makes of a number.
type numberStyle int

const (
	showsNumber numberStyle = iota
	ShowsPercent
	ShowsMoment // a date, a time or both
)

// FileBook is a workbook from outside, read.
type FileBook struct {
	Sheets []string
	Cells  map[Cell]FileCell
	From04 bool              // days count from 1904
	Names  map[string]string // defined for the whole workbook, in lower case → what each leads to
	Hidden hidden
}

// hidden is what a person who looks at a workbook does not see.
type hidden struct {
	sheets map[string]bool
	rows   map[Cell]bool // with Col 0
	cols   map[Cell]bool // with Row 0
}

// At tells whether a cell is hidden.
func (h hidden) At(c Cell) bool {
	return h.sheets[c.Sheet] || h.rows[Cell{c.Sheet, c.Row, 0}] || h.cols[Cell{c.Sheet, 0, c.Col}]
}

// workbookPart is what the main part of a workbook lists.
type workbookPart struct {
	Props struct {
		From04 string `xml:"date1904,attr"`
	} `xml:"workbookPr"`
	Sheets []struct {
		Name  string `xml:"name,attr"`
		State string `xml:"state,attr"`
		ID    string `xml:"id,attr"` // of the relationships' namespace, strict or transitional
	} `xml:"sheets>sheet"`
	Names []struct {
		Name  string  `xml:"name,attr"`
		Sheet *string `xml:"localSheetId,attr"`
		To    string  `xml:",chardata"`
	} `xml:"definedNames>definedName"`
}

// ReadBook reads every cell with content. The error names the part or cell that is
// damaged or out of bounds.
func ReadBook(p Packed) (*FileBook, error) {
	_, root, err := p.follow("")
	if err != nil {
		return nil, err
	}
	main := root["officeDocument"]
	var doc workbookPart
	if p[main] == nil {
		return nil, errors.New("it is no workbook (.xlsx): save it as one")
	}
	if err := xml.Unmarshal(p[main], &doc); err != nil {
		return nil, fmt.Errorf("%s: %w", main, err)
	}
	byID, byType, err := p.follow(main)
	if err != nil {
		return nil, err
	}
	b := &FileBook{Cells: map[Cell]FileCell{}, From04: isOn(doc.Props.From04), Names: map[string]string{},
		Hidden: hidden{map[string]bool{}, map[Cell]bool{}, map[Cell]bool{}}}
	for _, n := range doc.Names {
		if n.Sheet == nil {
			b.Names[strings.ToLower(n.Name)] = strings.TrimSpace(n.To)
		}
	}
	strs, err := readStrings(p[byType["sharedStrings"]])
	if err != nil {
		return nil, fmt.Errorf("shared strings: %w", err)
	}
	styles, err := readStyles(p[byType["styles"]])
	if err != nil {
		return nil, fmt.Errorf("styles: %w", err)
	}
	for _, s := range doc.Sheets {
		if slices.Contains(b.Sheets, s.Name) {
			return nil, fmt.Errorf("sheet %q stands twice", s.Name)
		}
		b.Sheets = append(b.Sheets, s.Name)
		b.Hidden.sheets[s.Name] = s.State != "" && s.State != "visible"
		part, ok := p[byID[s.ID]]
		if !ok {
			return nil, fmt.Errorf("sheet %q has no content: the file is not whole", s.Name)
		}
		if err := b.readSheet(s.Name, part, strs, styles); err != nil {
			return nil, fmt.Errorf("sheet %q: %w", s.Name, err)
		}
	}
	return b, nil
}

func isOn(s string) bool { return s == "1" || strings.EqualFold(s, "true") }

// stringXML is text, in one piece or in runs; readings aloud of it are left out.
type stringXML struct {
	T    []string `xml:"t"`
	Runs []struct {
		T []string `xml:"t"`
	} `xml:"r"`
}

func (s stringXML) text() string {
	out := strings.Join(s.T, "")
	for _, r := range s.Runs {
		out += strings.Join(r.T, "")
	}
	return unescaped(out)
}

// unescaped undoes _xHHHH_ (ECMA-376, part 1, 22.9.2.19).
func unescaped(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		if i+7 <= len(s) && isEscape(s[i:i+7]) {
			n, err := strconv.ParseUint(s[i+2:i+6], 16, 16)
			if err == nil {
				b.WriteRune(rune(n)) // half a surrogate pair comes out as U+FFFD
				i += 7
				continue
			}
		}
		b.WriteByte(s[i])
		i++
	}
	return b.String()
}

func readStrings(data []byte) ([]string, error) {
	if data == nil {
		return nil, nil
	}
	var doc struct {
		Items []stringXML `xml:"si"`
	}
	if err := xml.Unmarshal(data, &doc); err != nil {
		return nil, err
	}
	out := make([]string, len(doc.Items))
	for i, s := range doc.Items {
		out[i] = s.text()
	}
	return out, nil
}

// readStyles gives what each cell style makes of a number.
func readStyles(data []byte) ([]numberStyle, error) {
	if data == nil {
		return nil, nil
	}
	var doc struct {
		Formats []struct {
			ID   int    `xml:"numFmtId,attr"`
			Code string `xml:"formatCode,attr"`
		} `xml:"numFmts>numFmt"`
		Cells []struct {
			Format int `xml:"numFmtId,attr"`
		} `xml:"cellXfs>xf"`
	}
	if err := xml.Unmarshal(data, &doc); err != nil {
		return nil, err
	}
	codes := map[int]string{}
	for _, f := range doc.Formats {
		codes[f.ID] = f.Code
	}
	out := make([]numberStyle, len(doc.Cells))
	for i, c := range doc.Cells {
		out[i] = styleOf(c.Format, codes[c.Format])
	}
	return out, nil
}

// styleOf tells what a number format shows. Numbers below 164 without a code are
// those of ECMA-376, part 1, 18.8.30.
func styleOf(id int, code string) numberStyle {
	switch {
	case code != "":
		return styleOfCode(code)
	case id == 9, id == 10:
		return ShowsPercent
	case id >= 14 && id <= 22, id >= 27 && id <= 36, id >= 45 && id <= 47, id >= 50 && id <= 58:
		return ShowsMoment
	}
	return showsNumber
}

// styleOfCode looks at the first section of a format code, without its literals.
func styleOfCode(code string) numberStyle {
	style := showsNumber
	for i := 0; i < len(code); i++ {
		switch c := code[i]; {
		case c == ';':
			return style
		case c == '"':
			i += 1 + max(0, strings.IndexByte(code[i+1:], '"'))
		case c == '\\' || c == '_' || c == '*':
			i++
		case c == '[':
			end := i + max(0, strings.IndexByte(code[i:], ']'))
			if inside := strings.ToLower(code[i:end]); strings.Trim(inside, "[hms") == "" && len(inside) > 1 {
				return ShowsMoment // elapsed time
			}
			i = end
		case c == '%':
			style = ShowsPercent
		case strings.HasPrefix(strings.ToLower(code[i:]), "general"):
			i += len("general") - 1
		case strings.IndexByte("dmyhsDMYHS", c) >= 0:
			return ShowsMoment
		}
	}
	return style
}

type cellXML struct {
	Ref     string     `xml:"r,attr"`
	Style   int        `xml:"s,attr"`
	Type    string     `xml:"t,attr"`
	Formula *string    `xml:"f"`
	Value   *string    `xml:"v"`
	Inline  *stringXML `xml:"is"`
}

func (b *FileBook) readSheet(name string, data []byte, strs []string, styles []numberStyle) error {
	var doc struct {
		Cols []struct {
			Min    int    `xml:"min,attr"`
			Max    int    `xml:"max,attr"`
			Hidden string `xml:"hidden,attr"`
		} `xml:"cols>col"`
		Rows []struct {
			R      int       `xml:"r,attr"`
			Hidden string    `xml:"hidden,attr"`
			Cells  []cellXML `xml:"c"`
		} `xml:"sheetData>row"`
	}
	if err := xml.Unmarshal(data, &doc); err != nil {
		return err
	}
	for _, c := range doc.Cols[:min(len(doc.Cols), maxColumns)] {
		for n := max(1, c.Min); isOn(c.Hidden) && n <= min(c.Max, maxColumns); n++ {
			b.Hidden.cols[Cell{name, 0, n}] = true
		}
	}
	row := 0
	for _, r := range doc.Rows {
		if row++; r.R != 0 {
			row = r.R
		}
		if isOn(r.Hidden) {
			b.Hidden.rows[Cell{name, row, 0}] = true
		}
		col := 0
		for _, c := range r.Cells {
			at := Cell{name, row, col + 1}
			if c.Ref != "" {
				var ok bool
				if at, ok = CellNamed(name, c.Ref); !ok || at.Row != row {
					return fmt.Errorf("row %d holds a cell %q", row, c.Ref)
				}
			}
			col = at.Col
			got, err := c.read(strs, styles)
			if err != nil {
				return fmt.Errorf("cell %s: %w", c.Ref, err)
			}
			if got == (FileCell{}) {
				continue
			}
			if at.Row < 1 || at.Row > MaxRows || at.Col > maxColumns {
				return fmt.Errorf("cell %s holds something: %d rows and %d columns are read", c.Ref, MaxRows, maxColumns)
			}
			if _, twice := b.Cells[at]; twice {
				return fmt.Errorf("cell %s stands twice", c.Ref)
			}
			b.Cells[at] = got
		}
	}
	return nil
}

// CellNamed finds the place an address such as C12 means.
func CellNamed(sheet, name string) (Cell, bool) {
	col, row, err := excelize.CellNameToCoordinates(name)
	return Cell{sheet, row, col}, err == nil && sheet != ""
}

// read gives a cell's content; the zero fileCell when it holds none.
func (c cellXML) read(strs []string, styles []numberStyle) (FileCell, error) {
	var out FileCell
	value := ""
	if c.Value != nil {
		value = strings.TrimSpace(*c.Value)
	}
	switch c.Type {
	case "s":
		i, err := strconv.Atoi(value)
		if value != "" && (err != nil || i < 0 || i >= len(strs)) {
			return out, fmt.Errorf("there is no shared string %.20q", value)
		}
		if value != "" {
			out.Text = strs[i]
		}
	case "inlineStr":
		if c.Inline != nil {
			out.Text = c.Inline.text()
		}
	case "str":
		if c.Value != nil {
			out.Text = unescaped(*c.Value)
		}
	case "b", "e":
		out.Text, out.Fault = value, map[string]string{"b": "a logical value", "e": "an error of the spreadsheet"}[c.Type]
	case "d":
		out.Text = value
	case "n", "":
		if value == "" {
			break
		}
		x, err := strconv.ParseFloat(value, 64)
		if err != nil || !quantity.Finite(x) {
			return out, fmt.Errorf("%.40q is no number", value)
		}
		out.Number, out.X, out.Text = true, x, Shortest(x)
		if c.Style >= 0 && c.Style < len(styles) {
			out.Shows = styles[c.Style]
		}
	default:
		return out, fmt.Errorf("type %.20q is not known", c.Type)
	}
	out.Text = strings.TrimSpace(out.Text)
	if c.Formula != nil {
		out.Formula = "=" + strings.TrimSpace(*c.Formula)
	}
	if out.Text == "" && out.Formula == "" && !out.Number {
		return FileCell{}, nil
	}
	return out, nil
}

// Shortest writes a number as the person saw it, as far as the file tells: with the
// fewest digits that still mean it among the 15 a spreadsheet shows. 440.9 comes back
// as typed although the file may say 440.90000000000003.
func Shortest(x float64) string {
	shown, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	if err != nil {
		shown = x // rounding up left the range of numbers
	}
	if a := max(shown, -shown); a == 0 || a >= 1e-6 && a < 1e15 {
		return strconv.FormatFloat(shown, 'f', -1, 64)
	}
	return strconv.FormatFloat(shown, 'e', -1, 64)
}
