package fieldsheet

import (
	"bytes"
	"maps"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"handback/checks"
	"handback/report"
	"handback/report/grid"
	"handback/testdata/rig"
)

// timed is a job whose only check asks times, opened and read back in given zones.
const timedPlan = `handback: 1
id: timed
title: A feeder with times
site: Invented pumping station
work: Contactor exchanged
people: [{id: ada, name: Ada Example, role: technician}]
instruments:
  - {id: det, name: voltage detector, serial: EX-1, due: 2027-05-31, category: III, rated_from: 12 V, rated_to: 1000 V}
  - {id: prove, name: proving unit, serial: EX-2, due: 2027-05-31}
steps:
  - check: dead
    kind: prove-dead
    instrument: det
    given: {source: prove, system_voltage: 400 V, neutral: no, pairs: no, indication: lamp}
`

// edited edits a sheet with the library and saves it.
func edited(t testing.TB, data []byte, edit func(f *excelize.File) error) []byte {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := edit(f); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if err := f.Write(&out); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// put sets a value with a number format of its own, "" for the general one.
func put(f *excelize.File, c grid.Cell, value any, format string) error {
	style := &excelize.Style{}
	if format != "" {
		style.CustomNumFmt = &format
	}
	id, err := f.NewStyle(style)
	if err != nil {
		return err
	}
	if err := f.SetCellStyle(c.Sheet, c.Name(), c.Name(), id); err != nil {
		return err
	}
	return f.SetCellValue(c.Sheet, c.Name(), value)
}

// What a spreadsheet makes of what was typed is undone as far as the file tells, and
// refused where it does not.
func TestReadFieldSheet_formats(t *testing.T) {
	r := fresh(t)
	data := sheetOf(t, r)
	at := inputsOf(t, r, data)["hv/value"]
	for _, c := range []struct {
		value        any
		format       string
		typed, fault string
	}{
		{10.98, "", "10.98", ""},
		{10.98, "0.0", "10.98", ""}, // the whole value counts, not what is shown of it
		{10.98, `0.00" kV"`, "10.98", ""},
		{10.98, `[Red]0.00;[Blue]-0.00`, "10.98", ""},
		{1.5e-7, "0.00E+00", "1.5e-07", ""},
		{0.1098, "0.00%", "", `"10.98 %": unit "%" is a share`},
		{46112.0, "yyyy-mm-dd", "", `"2026-03-31": the spreadsheet made a date or a time of it`},
		{0.5, "hh:mm", "", `"12:00": the spreadsheet made a date`},
		{0.5, "[h]:mm", "", "the spreadsheet made a date"},
		{true, "", "", "a logical value stands here"},
		{"1,098", "", "", `"1,098" is read two ways`},
		{"10.98 V\x85", "", "", "control characters"},
		{strings.Repeat("9", 3000), "", "", "3000 characters"},
		{"NaN", "", "", "no number"},
	} {
		back := edited(t, data, func(f *excelize.File) error { return put(f, at, c.value, c.format) })
		p, errs := takeBack(r, back, Options{})
		switch {
		case c.fault != "" && len(errs) == 1:
			if !strings.Contains(errs[0].Error(), c.fault) || !strings.HasPrefix(errs[0].Place, "hv!C") {
				t.Errorf("%v as %q: %v, want %s", c.value, c.format, errs[0], c.fault)
			}
		case c.fault != "" || len(errs) > 0:
			t.Errorf("%v as %q: %v, want %q", c.value, c.format, errs, c.fault)
		case p.Checks[0].Answers["value"].Typed != c.typed:
			t.Errorf("%v as %q: typed %q, want %q", c.value, c.format, p.Checks[0].Answers["value"].Typed, c.typed)
		}
	}
}

// The digits a file holds beyond those a spreadsheet shows, and escaped characters.
func TestReadFieldSheet_asWritten(t *testing.T) {
	r := fresh(t)
	data := sheetOf(t, r)
	at := inputsOf(t, r, data)["hv/value"]
	number := edited(t, data, func(f *excelize.File) error { return put(f, at, 10.98, "") })
	for written, want := range map[string]string{"10.979999999999999": "10.98", "10.980000000000000426": "10.98", "1098E-002": "10.98", "10.98000000000001": "10.98", "10.9800000000001": "10.9800000000001", "11": "11", "1.098E+1": "10.98"} {
		p, errs := takeBack(r, spliced(t, number, "xl/worksheets/sheet3.xml", "<v>10.98</v>", "<v>"+written+"</v>"), Options{})
		if len(errs) > 0 || p.Checks[0].Answers["value"].Typed != want {
			t.Errorf("%s: %+v, %v, want %s", written, p, errs, want)
		}
	}
	inline := `<c r="` + at.Name() + `" t="inlineStr"><is><r><t>10</t></r><r><t>.98_x0020_kV</t></r><rPh><t>aloud</t></rPh></is></c>`
	sheet := string(partOf(t, number, "xl/worksheets/sheet3.xml"))
	begin := strings.Index(sheet, `<c r="`+at.Name()+`"`)
	old := sheet[begin : begin+strings.Index(sheet[begin:], "</c>")+len("</c>")]
	p, errs := takeBack(r, spliced(t, number, "xl/worksheets/sheet3.xml", old, inline), Options{})
	if len(errs) > 0 || p.Checks[0].Answers["value"].Typed != "10.98 kV" {
		t.Errorf("%+v, %v", p, errs)
	}
}

// Times with and without their date, as text and as the days of a spreadsheet.
func TestReadFieldSheet_times(t *testing.T) {
	r := rig.Of(t, "timed.yaml", []byte(timedPlan))
	zone := rig.Dawn.Location()
	made := time.Date(2026, 3, 2, 22, 0, 0, 0, zone)
	data, err := Make(r.Job(), made)
	if err != nil {
		t.Fatal(err)
	}
	cells := inputsOf(t, r, data)
	for _, c := range []struct {
		value        any
		format, date string
		back         time.Duration // after making
		want, fault  string
	}{
		{"23:58", "", "", 4 * time.Hour, "2026-03-02T23:58:00+01:00", ""},
		{"00:03", "", "", 4 * time.Hour, "2026-03-03T00:03:00+01:00", ""},
		{"21:55", "", "", 4 * time.Hour, "2026-03-02T21:55:00+01:00", ""}, // the tablet's clock is behind
		{"21:00", "", "", 4 * time.Hour, "", "there was no such time between 2026-03-02 22:00 and now"},
		{"23:00", "", "", 30 * time.Hour, "", "it may be of 2026-03-02 or of 2026-03-03"},
		{"23:00", "", "2026-03-03", 30 * time.Hour, "2026-03-03T23:00:00+01:00", ""},
		{"2026-03-02 23:00:05", "", "2026-03-03", 30 * time.Hour, "2026-03-02T23:00:05+01:00", ""},
		{"2026-03-02T23:00:05Z", "", "", 30 * time.Hour, "2026-03-02T23:00:05Z", ""},
		{0.99861111111, "hh:mm", "", 4 * time.Hour, "2026-03-02T23:58:00+01:00", ""},
		{46083.99861111111, "yyyy-mm-dd hh:mm", "", 4 * time.Hour, "2026-03-02T23:58:00+01:00", ""},
		{46083.0, "yyyy-mm-dd", "", 4 * time.Hour, "", "a date without a time of day"},
		{23.58, "", "", 4 * time.Hour, "", `"23.58": not a time: type 14:05`},
		{-1.5, "hh:mm", "", 4 * time.Hour, "", "no moment of our time"},
		{"now", "", "", 4 * time.Hour, "", "now says nothing on a sheet"},
		{"24:00", "", "", 4 * time.Hour, "", "not a time"},
		{"23:58", "", "3.3.2026", 4 * time.Hour, "", "not a date: type 2026-03-31"},
	} {
		back := edited(t, data, func(f *excelize.File) error {
			if err := put(f, cells["dead/+date"], c.date, "@"); err != nil {
				return err
			}
			return put(f, cells["dead/before_at"], c.value, c.format)
		})
		p, errs := takeBack(r, back, Options{ReadingOptions: ReadingOptions{Now: made.Add(c.back)}})
		switch {
		case c.fault != "":
			if len(errs) == 0 || !strings.Contains(errs[0].Error(), c.fault) {
				t.Errorf("%v %s: %v, want %s", c.value, c.date, errs, c.fault)
			}
		case len(errs) > 0:
			t.Errorf("%v %s: %v", c.value, c.date, errs)
		case p.Checks[0].Answers["before_at"].Word != c.want:
			t.Errorf("%v %s: %s, want %s", c.value, c.date, p.Checks[0].Answers["before_at"].Word, c.want)
		}
	}
}

// A time that the clocks passed over, or showed twice, is not taken for one of the
// two. Berlin 2026: 03-29 02:00 to 03:00, 10-25 03:00 back to 02:00 (IANA).
func TestLocal_clocksPutForwardAndBack(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Skipf("no time zones on this system: %v", err)
	}
	tk := &taker{o: ReadingOptions{Now: time.Date(2026, 12, 1, 0, 0, 0, 0, berlin)}}
	for typed, want := range map[string]string{"2026-03-29 02:30": "passed over", "2026-10-25 02:30": "came twice", "2026-03-29 03:30": "", "2026-10-25 03:30": ""} {
		_, err := tk.instant(Filled{Typed: typed}, nil)
		if (want == "") != (err == nil) || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", typed, err, want)
		}
	}
}

// A formula is shown and not trusted; with the flag its value counts.
func TestReadFieldSheet_formula(t *testing.T) {
	r := fresh(t)
	data := sheetOf(t, r)
	at := inputsOf(t, r, data)["hv/value"]
	back := edited(t, data, func(f *excelize.File) error {
		if err := f.SetCellFormula(at.Sheet, at.Name(), "5.49*2"); err != nil {
			return err
		}
		return nil
	})
	_, errs := takeBack(r, back, Options{})
	if len(errs) != 1 || errs[0].Place != at.Place() || !strings.Contains(errs[0].Cause, "the formula =5.49*2 stands here") {
		t.Errorf("%v", errs)
	}
	if _, errs = takeBack(r, back, Options{Formulas: true}); len(errs) != 1 || !strings.Contains(errs[0].Cause, "the formula =5.49*2 holds no value") {
		t.Errorf("%v", errs)
	}
	valued := spliced(t, back, "xl/worksheets/sheet3.xml", "<f>5.49*2</f>", "<f>5.49*2</f><v>10.98</v>")
	_, errs = takeBack(r, valued, Options{})
	if len(errs) != 1 || errs[0].Met != "10.98" {
		t.Errorf("%v", errs)
	}
	p, errs := takeBack(r, valued, Options{Formulas: true})
	if len(errs) > 0 || p.Checks[0].Answers["value"].Typed != "10.98" {
		t.Errorf("%+v, %v", p, errs)
	}
}

// record stores what a proposal gives, as the command does but without judging.
func record(r *rig.Rig, p *Proposal) {
	for _, c := range p.Checks {
		r.Put(report.EntryRead, c.Check.ID, report.Read{Attempt: c.Attempt, Answers: c.Answers, Why: c.Why})
		for _, n := range c.Notes {
			r.Put(report.EntryNote, c.Check.ID, report.Noted{Text: n})
		}
	}
}

// The same sheet twice changes nothing, days later too; more of it adds the rest;
// what differs from the record is named.
func TestReadFieldSheet_again(t *testing.T) {
	r := rig.Of(t, "timed.yaml", []byte(timedPlan))
	r.Now = r.Now.Add(time.Hour)
	data := sheetOf(t, r)
	half := map[string]any{"dead/tester": "det", "dead/source": "prove", "dead/before": "live", "dead/before_at": "08:50", "dead/+note": "lamp bright"}
	now := ReadingOptions{Now: r.Now.Add(2 * time.Hour)}
	p, errs := takeBack(r, filledIn(t, r, data, half), Options{ReadingOptions: now})
	if len(errs) > 0 {
		t.Fatal(errs)
	}
	record(r, p)
	for _, later := range []time.Duration{0, 100 * time.Hour} {
		p, errs = takeBack(r, filledIn(t, r, data, half), Options{ReadingOptions: ReadingOptions{Now: now.Now.Add(later)}})
		if later == 0 && (len(errs) > 0 || len(p.Checks) > 0 || p.Same != 5) {
			t.Errorf("again: %+v, %v", p, errs)
		}
	}
	half["dead/l1e"] = "not live"
	p, errs = takeBack(r, filledIn(t, r, data, half), Options{ReadingOptions: now})
	if len(errs) > 0 {
		t.Fatal(errs)
	}
	if diff := cmp.Diff(map[string]string{"dead/1/l1e": "not live → not live"}, understood(p)); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	half["dead/before"] = "not live"
	_, errs = takeBack(r, filledIn(t, r, data, half), Options{ReadingOptions: now})
	if len(errs) != 1 || !strings.Contains(errs[0].Error(), `is recorded as "live" by now`) {
		t.Errorf("%v", errs)
	}
}

// A sheet may come back when its attempt was judged meanwhile: equal values add
// nothing, another value or a new one is not slipped in.
func TestReadFieldSheet_judgedMeanwhile(t *testing.T) {
	r := fresh(t)
	data := sheetOf(t, r)
	r.Want(r.Take("hv", rig.Typed{"meter": "vt", "value": "11.20"}), checks.Pass)
	p, errs := takeBack(r, filledIn(t, r, data, map[string]any{"hv/value": "11.2 kV", "hv/meter": "vt"}), Options{})
	if len(errs) > 0 || len(p.Checks) > 0 || p.Same != 2 {
		t.Errorf("%+v, %v", p, errs)
	}
	_, errs = takeBack(r, filledIn(t, r, data, map[string]any{"hv/value": "11.3"}), Options{})
	if len(errs) != 1 || !strings.Contains(errs[0].Cause, `is recorded as "11.20" and judged`) {
		t.Errorf("%v", errs)
	}
	// a repeat needs its reason
	_, errs = takeBack(r, filledIn(t, r, data, map[string]any{"ir/p1": "850"}), Options{})
	if len(errs) != 1 || !strings.Contains(errs[0].Cause, "why it is taken again is wanted") {
		t.Errorf("%v", errs)
	}
	p, errs = takeBack(r, filledIn(t, r, data, map[string]any{"ir/p1": "850"}), Options{ReadingOptions: ReadingOptions{Now: r.Now, Repeat: "tester changed"}})
	if len(errs) > 0 || p.Checks[0].Why != "tester changed" || p.Checks[0].Attempt != 2 {
		t.Errorf("%+v, %v", p, errs)
	}
}

// A reading beside a label that is not its own is found, whoever moved it.
func TestReadFieldSheet_moved(t *testing.T) {
	r := fresh(t)
	data := filledIn(t, r, sheetOf(t, r), map[string]any{"volts/l2l3": "441.2", "volts/l3l1": "440.5"})
	at := inputsOf(t, r, data)["volts/l2l3"]
	for name, c := range map[string]struct {
		edit func(f *excelize.File) error
		want []string
	}{
		"a row put in":      {func(f *excelize.File) error { return f.InsertRows("volts", at.Row, 1) }, []string{"was printed here", "nothing is asked here"}},
		"a row taken out":   {func(f *excelize.File) error { return f.RemoveRow("volts", at.Row-1) }, []string{"was printed here"}},
		"written over":      {func(f *excelize.File) error { return f.SetCellStr("volts", at.In(1).Name(), "L3-L1") }, []string{`"L3-L1": "L2-L3" was printed here`}},
		"beside the cell":   {func(f *excelize.File) error { return f.SetCellStr("volts", at.In(7).Name(), "441.2") }, []string{`"441.2": nothing is asked here`}},
		"a form taken out":  {func(f *excelize.File) error { return f.DeleteSheet("hv") }, []string{`the form "hv" was taken out`}},
		"the marker edited": {func(f *excelize.File) error { return f.SetCellStr(markerSheet, "B8", "hv") }, []string{""}},
		"marker gone":       {func(f *excelize.File) error { return f.DeleteSheet(markerSheet) }, []string{"it is no field sheet"}},
		"another plan":      {func(f *excelize.File) error { return f.SetCellStr(markerSheet, "B3", strings.Repeat("0", 64)) }, []string{"another plan"}},
		"another job":       {func(f *excelize.File) error { return f.SetCellStr(markerSheet, "B2", "pump-t1-2") }, []string{"made for job"}},
		"another record":    {func(f *excelize.File) error { return f.SetCellStr(markerSheet, "B5", strings.Repeat("0", 64)) }, []string{"does not continue"}},
		"a longer record":   {func(f *excelize.File) error { return f.SetCellStr(markerSheet, "B4", "99") }, []string{"does not continue"}},
		"a newer format":    {func(f *excelize.File) error { return f.SetCellStr(markerSheet, "B1", "2") }, []string{"this program reads format 1"}},
	} {
		t.Run(name, func(t *testing.T) {
			p, errs, err := Read(edited(t, data, c.edit), r.Job(), Options{ReadingOptions: ReadingOptions{Now: r.Now.Add(time.Hour)}})
			if p != nil || err == nil && len(errs) == 0 {
				t.Fatalf("taken: %+v", p)
			}
			text := ""
			if err != nil {
				text = err.Error()
			}
			for _, e := range errs {
				text += e.Error() + "\n"
			}
			for _, want := range c.want {
				if !strings.Contains(text, want) {
					t.Errorf("%s\nlacks %q", text, want)
				}
			}
		})
	}
}

// Words that would do harm as more than words go out and come back as words.
func TestFieldSheet_wordsStayWords(t *testing.T) {
	r := rig.Nasty(t)
	data := sheetOf(t, r)
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range rows {
			for j := range row {
				if formula, err := f.GetCellFormula(sheet, grid.Cell{Sheet: sheet, Row: i + 1, Col: j + 1}.Name()); err != nil || formula != "" {
					t.Errorf("%s holds the formula %s, %v", grid.Cell{Sheet: sheet, Row: i + 1, Col: j + 1}.Ref(), formula, err)
				}
			}
		}
	}
	words := "=HYPERLINK(\"http://example.org\") +49 _x <b>&amp; \U0001F600"
	p, errs := takeBack(r, filledIn(t, r, data, map[string]any{"tidy/+note": words}), Options{})
	if len(errs) > 0 || p.Checks[0].Notes[0] != words {
		t.Errorf("%+v, %v", p, errs)
	}
}

// A job with nothing open has no sheet.
func TestFieldSheet_nothingOpen(t *testing.T) {
	r := rig.Of(t, "timed.yaml", []byte(timedPlan))
	said := rig.Typed{"tester": "det", "source": "prove", "before": "live", "before_at": "07:31", "l1e": "not live", "l2e": "not live", "l3e": "not live", "points_at": "07:31", "after": "live", "after_at": "07:31"}
	r.Want(r.Take("dead", maps.Clone(said)), checks.Pass)
	if _, err := Make(r.Job(), r.Now); err == nil || !strings.Contains(err.Error(), "nothing to fill in") {
		t.Error(err)
	}
}
