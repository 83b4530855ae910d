package report

import (
	"strings"
	"testing"
)

func TestExamineWorkbook(t *testing.T) {
	r := newRig(t, "pump.yaml")
	r.take("isolated", isolated)
	j := r.job()
	d, err := NewDocument(j, j.Head().At)
	if err != nil {
		t.Fatal(err)
	}
	data, err := Workbook(d)
	if err != nil {
		t.Fatal(err)
	}
	c, err := ReadClaim(data)
	if want := (Claim{"pump-t1-1", j.Head().Hash, len(j.Entries)}); err != nil || c != want {
		t.Fatalf("%+v, %v; want %+v", c, err, want)
	}
	r.put(KindNote, "", Noted{"later"})
	later := r.job()
	for name, w := range map[string]struct {
		data        []byte
		fault, note string
	}{
		"as made":      {data, "", "the job has gone on: 1 entry came after it"},
		"words":        {withWords(t, data, "NOT READY", "READY"), `Cover!A4 says "READY`, "another one may word them otherwise"},
		"formula":      {withWords(t, data, `t="inlineStr"><is><t>Handover record</t></is>`, `t="str"><f>1+1</f><v>Handover record</v>`), `Cover!A1 holds the formula "=1+1", the record gives "Handover record"`, ""},
		"filled in":    {withWords(t, data, `<row r="5" ht="6" customHeight="1"></row>`, `<row r="5" ht="6" customHeight="1"><c r="F5" t="inlineStr"><is><t>signed on the 3rd</t></is></c></row>`), "", `filled in since: Cover!F5 "signed on the 3rd"`},
		"other job":    {withWords(t, data, "job pump-t1-1", "job pump-t1-9"), `it shows job "pump-t1-9", not pump-t1-1`, ""},
		"other head":   {withWords(t, data, j.Head().Hash, strings.Repeat("a", 64)), "its head hash is not that of entry", ""},
		"not handover": {withWords(t, data, "head hash", "hash"), "it is no handover of handback", ""},
		"no workbook":  {[]byte("PK\x03\x04"), "it is no workbook", ""},
	} {
		x := ExamineWorkbook(w.data, later)
		faults, notes := strings.Join(x.Faults, "\n"), strings.Join(x.Notes, "\n")
		if w.fault == "" && faults != "" || !strings.Contains(faults, w.fault) || !strings.Contains(notes, w.note) {
			t.Errorf("%s: faults %q, notes %q", name, x.Faults, x.Notes)
		}
	}
	if x := ExamineWorkbook(data, &Job{ID: "pump-t1-1", Plan: j.Plan, Entries: j.Entries[:1]}); len(x.Faults) != 1 || !strings.Contains(x.Faults[0], "the record has 1") {
		t.Errorf("%q", x.Faults)
	}
}
