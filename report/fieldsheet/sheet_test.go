package fieldsheet

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"handback/checks"
	"handback/checks/quantity"
	"handback/report/grid"
	"handback/testdata/rig"
)

// fresh is a job with one check passed, one failed, and one begun.
func fresh(t testing.TB) *rig.Rig {
	r := rig.New(t, "pump.yaml")
	r.Want(r.Take("isolated", rig.Isolated), checks.Pass)
	r.Want(r.Take("ir", rig.Insulated), checks.Fail)
	r.Read("volts", rig.Typed{"meter": "dmm", "l1l2": "440.9"}, nil, "")
	return r
}

func sheetOf(t testing.TB, r *rig.Rig) []byte {
	t.Helper()
	data, err := Make(r.Job(), r.Now.Add(time.Minute))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// inputsOf are the cells to fill in, by check and key, as the marker names them.
func inputsOf(t testing.TB, r *rig.Rig, data []byte) map[string]grid.Cell {
	t.Helper()
	m, _, err := openFieldSheet(data, r.Job())
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]grid.Cell{}
	for _, in := range m.inputs {
		out[in.check+"/"+in.key] = in.Cell
	}
	return out
}

// filledIn puts values into cells, as a person with a spreadsheet would.
func filledIn(t testing.TB, r *rig.Rig, data []byte, values map[string]any) []byte {
	t.Helper()
	cells := inputsOf(t, r, data)
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for key, v := range values {
		c, ok := cells[key]
		if !ok {
			t.Fatalf("the sheet asks no %s", key)
		}
		if err := f.SetCellValue(c.Sheet, c.Name(), v); err != nil {
			t.Fatal(err)
		}
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func takeBack(r *rig.Rig, data []byte, o Options) (*Proposal, []CellError) {
	r.Helper()
	if o.Now.IsZero() {
		o.Now = r.Now.Add(2 * time.Hour)
	}
	p, errs, err := Read(data, r.Job(), o)
	if err != nil {
		r.Fatal(err)
	}
	return p, errs
}

// understood is what a proposal would record, check by check.
func understood(p *Proposal) map[string]string {
	out := map[string]string{}
	for _, c := range p.Checks {
		for k, a := range c.Answers {
			out[fmt.Sprintf("%s/%d/%s", c.Check.ID, c.Attempt, k)] = fmt.Sprintf("%s → %s%s%s", a.Typed, a.Bound, map[bool]string{true: quantity.Number(a.Value), false: a.Word}[a.Word == ""], a.Unit)
		}
	}
	return out
}

// The sheet asks what is open and nothing else, and is the same every time.
func TestFieldSheet(t *testing.T) {
	r := fresh(t)
	data := sheetOf(t, r)
	if !bytes.Equal(data, sheetOf(t, r)) {
		t.Error("made twice it differs")
	}
	cells := inputsOf(t, r, data)
	for key, want := range map[string]bool{"isolated/who": false, "ir/p1": true, "ir/+repeat": true, "ir/+date": false, "hv/value": true, "hv/+repeat": false,
		"volts/l1l2": false, "volts/l2l3": true, "volts/+note": true, "tidy/s1": true} {
		if _, ok := cells[key]; ok != want {
			t.Errorf("%s asked: %v, want %v", key, ok, want)
		}
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if diff := cmp.Diff([]string{"Read first", "ir", "hv", "volts", "earth-ref", "tidy", "handback"}, f.GetSheetList()); diff != "" {
		t.Errorf("sheets (-want +got):\n%s", diff)
	}
	for _, name := range f.GetSheetList() {
		p, err := f.GetSheetProtection(name)
		if err != nil || p.Password != "" {
			t.Errorf("%s: protection %+v, %v", name, p, err)
		}
		visible, err := f.GetSheetVisible(name)
		if err != nil || visible != (name != "handback") {
			t.Errorf("%s: visible %v, %v", name, visible, err)
		}
		unlocked(t, f, name, cells)
	}
}

// unlocked demands that exactly the cells to fill in are open.
func unlocked(t *testing.T, f *excelize.File, name string, cells map[string]grid.Cell) {
	t.Helper()
	asked := map[string]bool{}
	for _, c := range cells {
		if c.Sheet == name {
			asked[c.Name()] = true
		}
	}
	for row := 1; row < 60; row++ {
		for col := 1; col <= 5; col++ {
			at := grid.Cell{Sheet: name, Row: row, Col: col}
			id, err := f.GetCellStyle(name, at.Name())
			if err != nil {
				t.Fatal(err)
			}
			style, err := f.GetStyle(id)
			if err != nil {
				t.Fatal(err)
			}
			open := style.Protection != nil && !style.Protection.Locked
			merged := asked[at.In(2).Name()] && col > 2 && col <= 4 // a wide cell is open in all its parts
			if open != (asked[at.Name()] || merged) {
				t.Errorf("%s: open %v, asked %v", at.Ref(), open, asked[at.Name()])
			}
		}
	}
}

// What is filled in comes back as typed and is understood with its unit.
func TestReadFieldSheet_values(t *testing.T) {
	r := fresh(t)
	data := sheetOf(t, r)
	back := filledIn(t, r, data, map[string]any{
		"ir/p1": "0.850 GΩ", "ir/p2": "> 1,2 GΩ", "ir/p3": 910.0, "ir/+repeat": "with a tester in date", "ir/+note": "terminals cleaned",
		"hv/value": 11.2, "volts/l2l3": "441.20", "earth-ref/meter": "DMM", "tidy/s1": "y",
	})
	p, errs := takeBack(r, back, Options{})
	for _, e := range errs {
		t.Error(e)
	}
	if t.Failed() {
		return
	}
	want := map[string]string{
		"ir/2/p1": "0.850 GΩ → 850000000Ω", "ir/2/p2": "> 1,2 GΩ → >1200000000Ω", "ir/2/p3": "910 → 910000000Ω",
		"hv/1/value": "11.2 → 11200V", "volts/1/l2l3": "441.20 → 441.2V", "earth-ref/1/meter": "DMM → dmm", "tidy/1/s1": "y → yes",
	}
	if diff := cmp.Diff(want, understood(p)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if c := p.Checks[0]; c.Why != "with a tester in date" || !c.Begins || strings.Join(c.Notes, "") != "terminals cleaned" {
		t.Errorf("%+v", c)
	}
	if c := p.Checks[2]; c.Check.ID != "volts" || c.Begins {
		t.Errorf("%+v", c)
	}
}
