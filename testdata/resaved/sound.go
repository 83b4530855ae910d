package resaved

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// inOrder is what a sheet and a workbook may hold, in the order that the schema of
// ECMA-376, part 1, 18.3.1.99 and 18.2.27 wants (from memory). Programs that mind call a
// file with another order damaged; most readers do not mind.
var inOrder = map[string][]string{
	"worksheet": {"sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "sheetCalcPr", "sheetProtection", "protectedRanges", "scenarios",
		"autoFilter", "sortState", "dataConsolidate", "customSheetViews", "mergeCells", "phoneticPr", "conditionalFormatting", "dataValidations", "hyperlinks",
		"printOptions", "pageMargins", "pageSetup", "headerFooter", "rowBreaks", "colBreaks", "customProperties", "cellWatches", "ignoredErrors", "smartTags",
		"drawing", "legacyDrawing", "legacyDrawingHF", "picture", "oleObjects", "controls", "webPublishItems", "tableParts", "extLst"},
	"workbook": {"fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets", "functionGroups", "externalReferences", "definedNames",
		"calcPr", "oleSize", "customWorkbookViews", "pivotCaches", "smartTagPr", "smartTagTypes", "webPublishing", "fileRecoveryPr", "webPublishObjects", "extLst"},
}

// Limits that spreadsheet programs publish for a formula (from memory).
const (
	formulaLength = 8192
	formulaArgs   = 255
	formulaDepth  = 64
)

// Unsound is what a strict reader would not take of a workbook.
func Unsound(t testing.TB, data []byte) (faults []string) {
	t.Helper()
	parts := map[string][]byte{}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if parts[f.Name], err = io.ReadAll(r); err != nil {
			t.Fatal(err)
		}
	}
	say := func(name, format string, args ...any) {
		faults = append(faults, name+": "+fmt.Sprintf(format, args...))
	}
	type declared struct {
		Extension string `xml:",attr"`
		PartName  string `xml:",attr"`
	}
	var types struct {
		Defaults  []declared `xml:"Default"`
		Overrides []declared `xml:"Override"`
	}
	if err := xml.Unmarshal(parts["[Content_Types].xml"], &types); err != nil {
		t.Fatal(err)
	}
	covered := map[string]bool{"[Content_Types].xml": true}
	for _, o := range types.Overrides {
		if name := strings.TrimPrefix(o.PartName, "/"); parts[name] == nil || covered[name] {
			say(name, "declared twice, or not there")
		} else {
			covered[name] = true
		}
	}
	for name, part := range parts {
		if !covered[name] && !slices.ContainsFunc(types.Defaults, func(d declared) bool { return "."+d.Extension == path.Ext(name) }) {
			say(name, "no content type")
		}
		if strings.HasSuffix(name, ".rels") {
			unresolved(name, part, parts, say)
		}
		if path.Dir(name) == "xl/worksheets" || name == "xl/workbook.xml" {
			outOfOrder(name, part, say)
		}
	}
	return faults
}

// unresolved tells of links to parts that are not there.
func unresolved(name string, part []byte, parts map[string][]byte, say func(name, format string, args ...any)) {
	var doc struct {
		Links []struct {
			ID     string `xml:"Id,attr"`
			Target string `xml:",attr"`
		} `xml:"Relationship"`
	}
	if err := xml.Unmarshal(part, &doc); err != nil {
		say(name, "%v", err)
	}
	seen := map[string]bool{}
	for _, l := range doc.Links {
		target := strings.TrimPrefix(l.Target, "/")
		if target == l.Target {
			target = path.Join(path.Dir(path.Dir(name)), target)
		}
		if parts[target] == nil || seen[l.ID] {
			say(name, "%s leads to %s, which is not there, or stands twice", l.ID, target)
		}
		seen[l.ID] = true
	}
}

// outOfOrder tells of elements in the wrong place, of cells that do not follow one
// another, and of formulas that no program takes.
func outOfOrder(name string, part []byte, say func(name, format string, args ...any)) {
	d := xml.NewDecoder(bytes.NewReader(part))
	var order []string
	at, depth, row, last, formula := -1, 0, 0, 0, false
	for {
		token, err := d.Token()
		if err != nil {
			if err != io.EOF {
				say(name, "%v", err)
			}
			return
		}
		switch e := token.(type) {
		case xml.StartElement:
			depth++
			switch {
			case depth == 1:
				order = inOrder[e.Name.Local]
			case depth == 2:
				next := slices.Index(order, e.Name.Local)
				if next < at {
					say(name, "%s stands behind %s", e.Name.Local, order[at])
				}
				at = max(at, next)
				if next < 0 {
					say(name, "%s is not known", e.Name.Local)
				}
			case e.Name.Local == "row":
				row, last = row+1, 0
				if r, err := strconv.Atoi(attr(e, "r")); err == nil {
					if r < row {
						say(name, "row %d stands behind row %d", r, row-1)
					}
					row = r
				}
			case e.Name.Local == "c" && depth == 4:
				col, r, err := excelize.CellNameToCoordinates(attr(e, "r"))
				if err != nil || r != row || col <= last {
					say(name, "cell %s stands behind column %d of row %d", attr(e, "r"), last, row)
				}
				last = col
			}
			formula = e.Name.Local == "f"
		case xml.EndElement:
			depth, formula = depth-1, false
		case xml.CharData:
			if formula {
				if length, args, deep := measured(string(e)); length > formulaLength || args > formulaArgs || deep > formulaDepth {
					say(name, "row %d: a formula of %d characters, %d arguments, %d levels", row, length, args, deep)
				}
			}
		}
	}
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

// measured is how long a formula is, how many arguments a function of it has at most, and
// how deep functions stand in one another.
func measured(formula string) (length, args, deep int) {
	var open []int
	quoted := false
	for _, r := range formula {
		switch {
		case r == '"':
			quoted = !quoted
		case quoted:
		case r == '(':
			open = append(open, 1)
			deep = max(deep, len(open))
		case r == ',' && len(open) > 0:
			open[len(open)-1]++
		case r == ')' && len(open) > 0:
			args = max(args, open[len(open)-1])
			open = open[:len(open)-1]
		}
	}
	return len([]rune(formula)), args, deep
}
