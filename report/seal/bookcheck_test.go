package seal

import (
	"bytes"
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"handback/records"
	"handback/report"
	"handback/report/grid"
	"handback/report/workbook"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

// handedWorkbook is the workbook of a job as it stands, with its named cells.
func handedWorkbook(t testing.TB, j *report.Job) ([]byte, []grid.NamedCell) {
	t.Helper()
	d, err := report.NewDocument(j, j.Head().At)
	if err != nil {
		t.Fatal(err)
	}
	b, err := workbook.LayOut(d)
	if err != nil {
		t.Fatal(err)
	}
	data, err := b.Bytes()
	if err != nil {
		t.Fatal(err)
	}
	return data, b.Named()
}

func TestExamineWorkbook(t *testing.T) {
	r := rig.Told(t)
	j := r.Job()
	data, names := handedWorkbook(t, j)
	c, err := ReadClaim(data)
	if want := (Claim{"pump-t1-1", j.Head().Hash, len(j.Entries)}); err != nil || c != want {
		t.Fatalf("%+v, %v; want %+v", c, err, want)
	}
	r.Put(report.EntryNote, "", report.Noted{Text: "later"})
	later := r.Job()
	named := func(name string) grid.Cell {
		i := slices.IndexFunc(names, func(n grid.NamedCell) bool { return n.Name == name })
		if i < 0 {
			t.Fatalf("no cell is named %s", name)
		}
		return names[i].At
	}
	set := func(name, value string) []byte { return rewritten(t, data, map[grid.Cell]string{named(name): value}) }
	for name, w := range outside.Some(map[string]struct {
		data          []byte
		fault, missed string
	}{
		"as made":         {data, "", ""},
		"a word":          {withWords(t, data, "Handover certificate", "Record handed over"), "", "how it is laid out and worded"},
		"a cell filled":   {withWords(t, data, `<row r="3" ht="4" customHeight="1"></row>`, `<row r="3" ht="4" customHeight="1"><c r="F3" t="inlineStr"><is><t>signed on the 3rd</t></is></c></row>`), "", "cells without a name"},
		"a reading":       {set("handback_reading__volts__2__l1l2", "480"), fmt.Sprintf("%s (handback_reading__volts__2__l1l2) holds \"480\", the record gives 440.9", named("handback_reading__volts__2__l1l2").Place()), ""},
		"typed":           {set("handback_typed__volts__2__l1l2", "480"), `(handback_typed__volts__2__l1l2) holds "480", the record gives "440.9"`, ""},
		"a word read":     {set("handback_reading__isolated__1__s1", "no"), `(handback_reading__isolated__1__s1) holds "no", the record gives "yes"`, ""},
		"who":             {set("handback_reading__isolated__1__who", "Ben Example"), `(handback_reading__isolated__1__who) holds "Ben Example", the record gives "Ada Example"`, ""},
		"a value":         {set("handback_value__volts__2__predicted", "431.2"), "(handback_value__volts__2__predicted) holds \"431.2\", the record gives 440.872", ""},
		"its verdict":     {set("handback_judged__volts__1__band_l1l2", "PASS"), `(handback_judged__volts__1__band_l1l2) holds "PASS", the record gives "FAIL"`, ""},
		"an attempt":      {set("handback_attempt__volts__1", "PASS"), `(handback_attempt__volts__1) holds "PASS", the record gives "FAIL"`, ""},
		"a result":        {set("handback_result__ir", "PASS"), `Certificate!`, ""},
		"as recorded":     {set("handback_recorded__ir", "PASS"), `(handback_recorded__ir) holds "PASS", the record gives "FAIL"`, ""},
		"what it stands":  {set("handback_stands__tidy", "closed"), `(handback_stands__tidy) holds "closed", the record gives "open"`, ""},
		"a reason":        {set("handback_reason__ir__1__1", "PASS"), `(handback_reason__ir__1__1) holds "PASS"`, ""},
		"the verdict":     {set("handback_verdict", "READY"), `Certificate!A5 (handback_verdict) holds "READY", the record gives "NOT READY"`, ""},
		"the digest":      {set("handback_digest", strings.Repeat("0", 64)), "(handback_digest) holds", ""},
		"a formula":       {withWords(t, data, `t="inlineStr"><is><t>`+j.Head().Hash+`</t></is>`, `t="str"><f>1+1</f><v>`+j.Head().Hash+`</v>`), `(handback_head) holds the formula "=1+1", the record gives "`, ""},
		"a name gone":     {withWords(t, data, `"handback_result__hv"`, `"handback_result__xx"`), "", ""},
		"a name moved":    {renamed(t, data, "handback_result__hv", named("handback_result__isolated")), "has the name handback_result__isolated too", ""},
		"a name to none":  {renamed(t, data, "handback_result__hv", grid.Cell{Sheet: "Elsewhere", Row: 1, Col: 1}), `it leads to "'Elsewhere'!$A$1", which is no cell of this workbook`, ""},
		"hidden sheet":    {withWords(t, data, `<sheet name="Certificate"`, `<sheet state="hidden" name="Certificate"`), "(handback_result__hv) is hidden from view", ""},
		"data: a reading": {withWords(t, data, `"typed":"440.9"`, `"typed":"440.8"`), `its handover data are not those of the record: checks, check volts, attempts, attempt 2, answers, l1l2, typed: "440.8" there, "440.9" in the record`, ""},
		"data: an entry":  {withWords(t, data, `"notes":[{`, `"notes":[{"by":"ada","check":"","entry":3,"text":"well"},{`), `notes, entry 7, text: "well" there`, ""},
		"data: rewritten": {withWords(t, data, `{"at":`, `{ "at":`), "not written in the form of RFC 8785", ""},
		"data: torn":      {withWords(t, data, `{"at":`, `{"at"`), "its handover data cannot be read", ""},
		"data gone":       {withWords(t, data, grid.DataLink, "urn:other"), "", "its handover data: a program that saved it left them out"},
		"other job":       {withWords(t, data, `"job":"pump-t1-1"`, `"job":"pump-t1-9"`), `it shows job "pump-t1-9", not pump-t1-1`, ""},
		"other head":      {withWords(t, data, j.Head().Hash, strings.Repeat("a", 64)), "its head hash is not that of entry", ""},
		"neither":         {withWords(t, withWords(t, data, grid.DataLink, "urn:other"), "handback_head", "handback_hat"), "it is no handover of handback", ""},
		"no workbook":     {[]byte("PK\x03\x04"), "it is no workbook", ""},
	}) {
		x := ExamineWorkbook(w.data, later)
		faults, missed := strings.Join(x.Faults, "\n"), strings.Join(x.Missed, "\n")
		if name == "a name gone" {
			w.fault = "the name handback_result__hv, made for " + named("handback_result__hv").Place() + ", cannot be compared: it is gone"
		}
		if w.fault == "" && faults != "" || !strings.Contains(faults, w.fault) || !strings.Contains(missed, w.missed) {
			t.Errorf("%s: faults %q, not compared %q", name, x.Faults, x.Missed)
		}
		if exact := slices.ContainsFunc(x.Shown, func(s string) bool { return strings.Contains(s, "byte for byte") }); exact != (name == "as made") {
			t.Errorf("%s: shown %q", name, x.Shown)
		}
	}
	if x := ExamineWorkbook(data, later); !slices.Equal(x.Notes, []string{"the job has gone on: 1 entry came after it"}) {
		t.Errorf("notes %q", x.Notes)
	}
	if x := ExamineWorkbook(data, &report.Job{ID: "pump-t1-1", Plan: j.Plan, Entries: j.Entries[:1]}); len(x.Faults) != 1 || !strings.Contains(x.Faults[0], "the record has 1") {
		t.Errorf("%q", x.Faults)
	}
}

// renamed lets a name lead to another cell.
func renamed(t testing.TB, data []byte, name string, to grid.Cell) []byte {
	t.Helper()
	part := string(rig.Parts(t, data)["xl/workbook.xml"])
	old := regexp.MustCompile(`name="` + name + `"[^>]*>[^<]*<`).FindString(part)
	if old == "" {
		t.Fatalf("no name %s", name)
	}
	return withWords(t, data, old, `name="`+name+`">`+grid.Absolute(to.Sheet, "$"+grid.AbsoluteName(to))+"<")
}

// Everything that is a verdict, a reading or a judged value in the handover data has a
// named cell that holds it, whatever laid it out.
func TestWorkbook_namesEveryDatum(t *testing.T) {
	for story, made := range map[string]func(testing.TB) *rig.Rig{"told": rig.Told, "nasty": rig.Nasty} {
		j := made(t).Job()
		_, names := handedWorkbook(t, j)
		at := map[string]any{}
		for _, n := range names {
			if _, twice := at[n.Name]; twice || !regexp.MustCompile(`^handback_[a-z0-9_]+$`).MatchString(n.Name) || len(n.Name) > 255 {
				t.Errorf("%s: name %q, twice %v", story, n.Name, twice)
			}
			at[n.Name] = n.Value
		}
		holds := func(want any, family string, parts ...any) {
			if got, ok := at[grid.Named(family, parts...)]; !ok || want != nil && got != want {
				t.Errorf("%s: %s holds %v, want %v", story, grid.Named(family, parts...), got, want)
			}
		}
		data, err := j.HandoverData(j.Head().At)
		if err != nil {
			t.Fatal(err)
		}
		var d report.Handed
		if err := json.Unmarshal(data, &d); err != nil {
			t.Fatal(err)
		}
		holds(workbook.VerdictHeads[d.Verdict], "verdict")
		readings, values := 0, 0
		for _, c := range d.Checks {
			holds(grid.WordOf(c.Verdict), "result", c.Check)
			holds(grid.WordOf(c.Verdict), "recorded", c.Check)
			holds(grid.WordOf(c.Verdict), "check", c.Check)
			holds(c.Stands, "stands", c.Check)
			for _, a := range c.Attempts {
				for key := range a.Answers {
					readings++
					holds(nil, "reading", c.Check, a.Attempt, key)
				}
				if a.Judged == nil {
					continue
				}
				holds(grid.WordOf(a.Judged.Verdict), "attempt", c.Check, a.Attempt)
				for i, reason := range a.Judged.Reasons {
					holds(grid.WordOf(reason.Verdict), "reason", c.Check, a.Attempt, i+1)
				}
				for key, x := range a.Judged.Values {
					values++
					holds(x, "value", c.Check, a.Attempt, key)
				}
			}
		}
		if readings < 10 || values < 10 {
			t.Errorf("%s: %d readings, %d values: the story has more", story, readings, values)
		}
	}
}

// What was signed is in the record as it was signed, and shows what the record says:
// a document of another state is named.
func TestExamineSigned(t *testing.T) {
	r := keyedRig(t)
	sign(r, "ada")
	sign(r, "eva")
	j := bagged(r)
	x := ExamineSigned(j)
	if len(x.Faults) > 0 || len(x.Missed) > 0 || len(x.Shown) != 2 || !strings.Contains(x.Shown[1], "the signature of entry 9 are stored, and carry the data of the record at entry 6") {
		t.Errorf("%q, %q, %q", x.Faults, x.Missed, x.Shown)
	}
	content, err := j.Files(j.Signatures[1].Kept[0].SHA256)
	if err != nil {
		t.Fatal(err)
	}
	if made, _ := handedWorkbook(t, mustFold(t, j, 6)); !bytes.Equal(made, content) {
		t.Error("the workbook that was signed is not the handover of that state")
	}
	if x := ExamineWorkbook(content, j); len(x.Faults) > 0 || !slices.ContainsFunc(x.Shown, func(s string) bool {
		return strings.HasSuffix(s, "the one that the signature of entry 9, by Eva Muster as engineer, covers")
	}) {
		t.Errorf("%q, %q", x.Faults, x.Shown)
	}

	// Somebody signs the documents of the state before.
	docs := signable(r)
	r.Put(report.EntryNote, "", report.Noted{Text: "one more"})
	signsWith(r, docs.NamedIn(statement(r, "odo")), keyOf(r, "odo"), docs.Drafts(r.Plan.Person("odo"))...)
	x = ExamineSigned(bagged(r))
	faults := strings.Join(x.Faults, "\n")
	for _, want := range []string{"the workbook of entry 11: its handover data are not those of the record: entries: 9 there, 10 in the record",
		"the page of entry 12: it does not name the handover data of the record"} {
		if !strings.Contains(faults, want) {
			t.Errorf("%q does not tell %q", x.Faults, want)
		}
	}
	// A file that is gone is told.
	j = bagged(r)
	j.Files = func(string) ([]byte, error) { return nil, records.ErrNoFile }
	if x := ExamineSigned(j); len(x.Faults) == 0 {
		t.Error("the documents are gone, and nothing is told")
	}
}

func mustFold(t testing.TB, j *report.Job, entries int) *report.Job {
	t.Helper()
	then, err := report.Fold(j.Plan, j.Entries[:entries])
	if err != nil {
		t.Fatal(err)
	}
	then.Files = j.Files
	return then
}

// rewritten is a workbook with some of its cells' values changed in the file alone.
func rewritten(t *testing.T, data []byte, values map[grid.Cell]string) []byte {
	t.Helper()
	cells := map[rig.CellAt]string{}
	for c, value := range values {
		cells[rig.CellAt{Sheet: c.Sheet, Cell: c.Name()}] = value
	}
	return rig.Rewritten(t, data, cells)
}
