package grid

import (
	"fmt"
	"math"
	"strings"

	"github.com/xuri/excelize/v2"
)

// Margins and paper (A4) in millimetres.
const (
	marginSide, marginTop, marginBottom, marginFoot = 12.0, 12.0, 16.0, 7.0
	paperShort, paperLong                           = 210.0, 297.0
)

// breaks are the rows that begin a printed page: a block that does not fit in what
// is left of a page begins a new one, unless it is longer than a page and half of
// one is left. Where lines flow on, every page's first row is said too, so that all
// programs end pages alike. Readers that scale to the width may ignore them.
func (s *Sheet) breaks() []int {
	wide, high := paperShort, paperLong
	if s.Landscape {
		wide, high = high, wide
	}
	const point = 25.4 / 72
	total := 0.0
	for i, w := range s.Widths[:s.wide()] {
		total += 6.1 * w
		if i < s.repeatCol {
			total += 6.1 * w * float64(max(0, s.pages-1))
		}
	}
	scale := math.Min(1, (wide-2*marginSide)/point*float64(max(1, s.pages))/total)
	page := 0.99*(high-marginTop-marginBottom)/point/scale - height(s.Rows[:s.Repeat])
	var out []int
	at := 0.0
	if len(s.blocks) > 0 { // what stands before the first
		at = height(s.Rows[min(s.Repeat, s.blocks[0].row-1) : s.blocks[0].row-1])
	}
	for i, b := range s.blocks {
		end := len(s.Rows) - s.aside
		if i+1 < len(s.blocks) {
			end = s.blocks[i+1].row - 1
		}
		h := height(s.Rows[b.row-1 : end])
		if b.whole && at > 0 && at+h > page && (h <= page || at > page/2) {
			out = append(out, b.row)
			at = 0
		}
		for n, r := range s.Rows[b.row-1 : end] {
			if at > 0 && at+r.Height > page {
				out = append(out, b.row+n)
				at = 0
			}
			at += r.Height
		}
	}
	return out
}

// height is what rows take, in points.
func height(rows []Row) float64 {
	sum := 0.0
	for _, l := range rows {
		sum += l.Height
	}
	return sum
}

// settings are paper, margins, footer, frozen and repeated rows, printed area.
func (s *Sheet) settings() error {
	f, last := s.book.File, Cell{s.Name, len(s.Rows), len(s.Widths)}
	for i, w := range s.Widths {
		col, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(s.Name, col, col, w); err != nil {
			return err
		}
	}
	turn, high := "portrait", 0
	if s.Landscape {
		turn = "landscape"
	}
	if s.OnePage {
		high = 1
	}
	side, top, bottom, foot := marginSide/25.4, marginTop/25.4, marginBottom/25.4, marginFoot/25.4
	steps := []error{
		f.SetSheetDimension(s.Name, "A1:"+last.Name()),
		f.SetSheetVisible(s.Name, !s.Hidden),
		f.SetSheetProps(s.Name, &excelize.SheetPropsOptions{FitToPage: new(true)}),
		f.SetSheetView(s.Name, 0, &excelize.ViewOptions{ShowGridLines: new(false)}),
		f.SetPageLayout(s.Name, &excelize.PageLayoutOptions{Size: new(9), Orientation: &turn, FitToWidth: new(max(1, s.pages)), FitToHeight: &high}),
		f.SetPageMargins(s.Name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &bottom, Header: &foot, Footer: &foot}),
		s.printed(),
	}
	if s.Repeat > 0 {
		pane, titles := "bottomLeft", Absolute(s.Name, fmt.Sprintf("$1:$%d", s.Repeat))
		if s.repeatCol > 0 {
			column, err := excelize.ColumnNumberToName(s.repeatCol)
			if err != nil {
				return err
			}
			pane, titles = "bottomRight", Absolute(s.Name, "$A:$"+column)+","+titles
		}
		below := Cell{s.Name, s.Repeat + 1, s.repeatCol + 1}.Name()
		steps = append(steps,
			f.SetPanes(s.Name, &excelize.Panes{Freeze: true, XSplit: s.repeatCol, YSplit: s.Repeat, TopLeftCell: below, ActivePane: pane,
				Selection: []excelize.Selection{{SQRef: below, ActiveCell: below, Pane: pane}}}))
		if !s.Unprinted {
			steps = append(steps, f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: s.Name, RefersTo: titles}))
		}
	}
	for _, err := range steps {
		if err != nil {
			return err
		}
	}
	return nil
}

// printed sets what of the sheet is printed, and what stands on every page of it. A sheet
// that is not printed has empty cells below its last row as its printed area, without
// header and footer: LibreOffice prints no page of it, other programs a blank one at
// most. Nothing is set where the sheet is hidden: some programs print it then.
func (s *Sheet) printed() error {
	if s.Hidden {
		return nil
	}
	area := "$A$1:$" + AbsoluteName(Cell{s.Name, len(s.Rows) - s.aside, s.wide()})
	if s.Unprinted {
		below := Cell{s.Name, len(s.Rows) + 2, 1} // two of them: some programs lose an area of one
		area = "$" + AbsoluteName(below) + ":$" + AbsoluteName(below.Up(-1))
	} else if err := s.book.File.SetHeaderFooter(s.Name, &excelize.HeaderFooterOptions{OddHeader: s.book.header(), OddFooter: s.book.footer()}); err != nil {
		return err
	}
	return s.book.File.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Area", Scope: s.Name,
		RefersTo: Absolute(s.Name, area)})
}

// Absolute is an area as a defined name refers to it.
func Absolute(sheet, area string) string {
	return "'" + strings.ReplaceAll(sheet, "'", "''") + "'!" + area
}
