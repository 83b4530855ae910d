package report_test

import (
	"bytes"
	"encoding/base64"
	"errors"
	"html"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/report/page"
	"handback/testdata/rig"
)

// A handover lists every file with its check, and shows pictures without their place.
func TestDocument_attachments(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	photo := rig.JpegWith(t, rig.Exif(6))
	torn := rig.JpegWith(t)[:80]
	r.Attach("earth-ref", "IMG 0042.jpg", "Clamp on the earth bar", photo)
	r.Attach("", "calibration.txt", "Certificate of the megger \x1b[31m"[:25], []byte("in date\n"))
	r.Attach("", "torn.jpg", "Picture that was cut off", torn)
	j := r.Job()
	d, err := report.NewDocument(j, r.Now)
	if err != nil {
		t.Fatal(err)
	}
	when := report.Stamp(r.Now)
	want := []report.AttachmentLine{
		{Entry: 2, When: when, By: "Ada Example", Check: "earth-ref", Title: j.State("earth-ref").Check.Title, Name: "IMG_0042.jpg", Type: chain.TypeJPEG, Caption: "Clamp on the earth bar", SHA256: chain.HashFile(photo), Bytes: len(photo), Dropped: false, Document: "", Signature: 0, Picture: nil, Remark: ""},
		{Entry: 3, When: when, By: "Ada Example", Check: "", Title: "", Name: "calibration.txt", Type: chain.TypeText, Caption: "Certificate of the megger", SHA256: chain.HashFile([]byte("in date\n")), Bytes: 8, Dropped: false, Document: "", Signature: 0, Picture: nil, Remark: ""},
		{Entry: 4, When: when, By: "Ada Example", Check: "", Title: "", Name: "torn.jpg", Type: chain.TypeJPEG, Caption: "Picture that was cut off", SHA256: chain.HashFile(torn), Bytes: 80, Dropped: false, Document: "", Signature: 0, Picture: nil, Remark: ""},
	}
	for i := range want {
		want[i].By = j.PersonName("ada")
	}
	if diff := cmp.Diff(want, d.Attachments); diff != "" {
		t.Errorf("without the files: -want +got\n%s", diff)
	}
	if got := d.Log[1].Text; got != "IMG_0042.jpg: Clamp on the earth bar: SHA-256 "+chain.HashFile(photo) {
		t.Errorf("the log says %q", got)
	}
	j.Files = func(hash string) ([]byte, error) { return r.Book.File(rig.Ctx, hash) }
	if d, err = report.NewDocument(j, r.Now); err != nil {
		t.Fatal(err)
	}
	p := d.Attachments[0].Picture
	if p == nil || p.Width != 40 || bytes.Contains(p.Content, []byte(rig.Place)) || d.Attachments[1].Picture != nil {
		t.Errorf("pictures %+v", d.Attachments)
	}
	if a := d.Attachments[2]; a.Picture != nil || !strings.HasPrefix(a.Remark, "not shown: ") {
		t.Errorf("a torn picture: %+v", a)
	}
	text, err := page.Text(d)
	if err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{"\nATTACHMENTS\n  earth-ref: Clamp on the earth bar\n    IMG_0042.jpg, image/jpeg, ", "  the job: Certificate of the megger\n", "    " + chain.HashFile(photo) + "\n", "\n\nRecord: 4 entries"} {
		if !strings.Contains(text, words) {
			t.Errorf("the text does not say %q:\n%s", words, text)
		}
	}
	page, err := page.Make(d)
	if err != nil {
		t.Fatal(err)
	}
	shown := "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(p.Content)
	for _, words := range []string{`<img src="` + html.EscapeString(shown), "img-src data:", "<strong>Clamp on the earth bar</strong><br/>earth-ref, ", "the job as a whole; calibration.txt, text/plain, 8 bytes<br/>", "torn.jpg, image/jpeg, 80 bytes; not shown: "} {
		if !strings.Contains(html.UnescapeString(string(page)), html.UnescapeString(words)) {
			t.Errorf("the page does not say %.80q", words)
		}
	}
	if strings.Count(string(page), "<img") != 2 || bytes.Contains(page, []byte(rig.Place)) {
		t.Error("the page shows more than the one picture that can be shown, beside its square code")
	}
	j.Files = func(string) ([]byte, error) { return nil, records.ErrDamaged }
	if _, err := report.NewDocument(j, r.Now); !errors.Is(err, records.ErrDamaged) || !strings.Contains(err.Error(), "IMG_0042.jpg of entry 2") {
		t.Errorf("got %v, want ErrDamaged", err)
	}
}

func TestFold_attachments(t *testing.T) {
	r := rig.New(t, "pump.yaml")
	r.Attach("none", "a.txt", "a", []byte("x"))
	entries, err := r.Book.Entries(rig.Ctx, r.ID)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := report.Fold(r.Plan, entries); err == nil || !strings.Contains(err.Error(), `entry 2 (attach): check "none" is not in the plan`) {
		t.Errorf("got %v", err)
	}
}
