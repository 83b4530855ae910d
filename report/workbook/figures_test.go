package workbook

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"handback/checks/calc"
	"handback/report"
	"handback/report/grid"
	"handback/testdata/resaved"
	"handback/testdata/rig"
)

// No cell shows an uncertainty of nothing, holds a chance so small that programs work it
// out differently, or writes out what has a prefix; and a strict reader takes the file.
func TestFigures_can_be_read(t *testing.T) {
	docs := map[string]*report.Document{}
	if !testing.Short() {
		docs = caseDocuments(t)
	}
	told, nasty := rig.Told(t), rig.Nasty(t)
	docs["told"], docs["nasty"] = told.Document(told.Now.Add(time.Hour)), nasty.Document(nasty.Now.Add(time.Hour))
	longFigure := regexp.MustCompile(`(^|[^0-9.])[0-9]{7,} ?(Ω|V|A|W|s)( |$|[^A-Za-z])`)
	spreads, figures := 0, 0
	for name, d := range docs {
		b, err := LayOut(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range b.Sheets {
			for i := range s.Rows {
				for _, box := range s.Boxes(i + 1) {
					at := name + " " + grid.Cell{Sheet: s.Name, Row: i + 1, Col: box.Col}.Ref()
					switch x := box.Value.(type) {
					case float64:
						figures++
						isSpread := strings.HasPrefix(box.Look.Format, `"±`)
						if isSpread {
							spreads++
						}
						if isSpread && !strings.HasSuffix(box.Look.Format, grid.Quoted(notCounted)) {
							t.Errorf("%s: format %s shows 0 as a figure", at, box.Look.Format)
						}
						if strings.HasPrefix(box.Look.Format, "[<0.001]") && x != 0 && !(x >= calc.LeastChance) {
							t.Errorf("%s holds a chance of %v", at, x)
						}
					case string:
						if found := longFigure.FindString(x); found != "" {
							t.Errorf("%s: %s", at, found)
						}
					}
				}
			}
		}
		if name == "told" || name == "nasty" {
			data, err := b.Bytes()
			if err != nil {
				t.Fatal(err)
			}
			for _, fault := range resaved.Unsound(t, data) {
				t.Errorf("%s: %s", name, fault)
			}
		}
		b.Close()
	}
	if spreads < 100 || figures < 1000 {
		t.Errorf("%d uncertainties of %d figures: there are more", spreads, figures)
	}
}
