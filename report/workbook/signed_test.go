package workbook

import (
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"handback/report"
	"handback/testdata/rig"
)

// The certificate of a signed job says who signed by key and what is doubtful about it.
func TestWorkbook_signatures(t *testing.T) {
	r := rig.Told(t)
	d := r.Document(r.Now)
	d.Signatures = []report.SignatureLine{
		{Role: "technician", Words: "signed by Ada Example as technician", Key: "SHA256:first"},
		{Role: "engineer", Words: "signed by Eva Muster as engineer", Key: "SHA256:second", Doubt: "it fits other bytes"},
	}
	data, err := Make(d)
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("Certificate")
	if err != nil {
		t.Fatal(err)
	}
	var words strings.Builder
	for _, r := range rows {
		words.WriteString(strings.Join(r, " ") + "\n")
	}
	for _, want := range []string{"by key, technician  signed by Ada Example as technician; key SHA256:first\n",
		"by key, engineer  signed by Eva Muster as engineer; key SHA256:second; NOT SHOWN TO BE GOOD: it fits other bytes"} {
		if !strings.Contains(words.String(), want) {
			t.Errorf("the certificate lacks %q:\n%s", want, words.String())
		}
	}
}
