package report

import (
	"bytes"
	"encoding/base64"
	"errors"
	"html"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/records"
)

// put on record a file that the book keeps.
func (r *rig) attach(check, name, caption string, content []byte) {
	r.Helper()
	d := records.Draft{At: r.now, By: r.by, Kind: KindAttach, Check: check, Data: records.NewAttached(name, content, caption, false), File: content}
	if _, err := r.book.Append(ctx, r.id, -1, d); err != nil {
		r.Fatal(err)
	}
}

// A handover lists every file with its check, and shows pictures without their place.
func TestDocument_attachments(t *testing.T) {
	r := newRig(t, "pump.yaml")
	photo := jpegWith(t, exif(6))
	torn := jpegWith(t)[:80]
	r.attach("earth-ref", "IMG 0042.jpg", "Clamp on the earth bar", photo)
	r.attach("", "calibration.txt", "Certificate of the megger \x1b[31m"[:25], []byte("in date\n"))
	r.attach("", "torn.jpg", "Picture that was cut off", torn)
	j := r.job()
	d, err := NewDocument(j, r.now)
	if err != nil {
		t.Fatal(err)
	}
	when := stamp(r.now)
	want := []AttachmentLine{
		{2, when, "Ada Example", "earth-ref", j.State("earth-ref").Check.Title, "IMG_0042.jpg", records.TypeJPEG, "Clamp on the earth bar", records.HashFile(photo), len(photo), false, "", 0, nil, ""},
		{3, when, "Ada Example", "", "", "calibration.txt", records.TypeText, "Certificate of the megger", records.HashFile([]byte("in date\n")), 8, false, "", 0, nil, ""},
		{4, when, "Ada Example", "", "", "torn.jpg", records.TypeJPEG, "Picture that was cut off", records.HashFile(torn), 80, false, "", 0, nil, ""},
	}
	for i := range want {
		want[i].By = j.PersonName("ada")
	}
	if diff := cmp.Diff(want, d.Attachments); diff != "" {
		t.Errorf("without the files: -want +got\n%s", diff)
	}
	if got := d.Log[1].Text; got != "IMG_0042.jpg: Clamp on the earth bar: SHA-256 "+records.HashFile(photo) {
		t.Errorf("the log says %q", got)
	}
	j.Files = func(hash string) ([]byte, error) { return r.book.File(ctx, hash) }
	if d, err = NewDocument(j, r.now); err != nil {
		t.Fatal(err)
	}
	p := d.Attachments[0].Picture
	if p == nil || p.Width != 40 || bytes.Contains(p.Content, []byte(place)) || d.Attachments[1].Picture != nil {
		t.Errorf("pictures %+v", d.Attachments)
	}
	if a := d.Attachments[2]; a.Picture != nil || !strings.HasPrefix(a.Remark, "not shown: ") {
		t.Errorf("a torn picture: %+v", a)
	}
	text, err := Text(d)
	if err != nil {
		t.Fatal(err)
	}
	for _, words := range []string{"\nATTACHMENTS\n  earth-ref: Clamp on the earth bar\n    IMG_0042.jpg, image/jpeg, ", "  the job: Certificate of the megger\n", "    " + records.HashFile(photo) + "\n", "\n\nRecord: 4 entries"} {
		if !strings.Contains(text, words) {
			t.Errorf("the text does not say %q:\n%s", words, text)
		}
	}
	page, err := Page(d)
	if err != nil {
		t.Fatal(err)
	}
	shown := "data:image/jpeg;base64," + base64.StdEncoding.EncodeToString(p.Content)
	for _, words := range []string{`<img src="` + html.EscapeString(shown), "img-src data:", "<strong>Clamp on the earth bar</strong><br/>earth-ref, ", "the job as a whole; calibration.txt, text/plain, 8 bytes<br/>", "torn.jpg, image/jpeg, 80 bytes; not shown: "} {
		if !strings.Contains(html.UnescapeString(string(page)), html.UnescapeString(words)) {
			t.Errorf("the page does not say %.80q", words)
		}
	}
	if strings.Count(string(page), "<img") != 1 || bytes.Contains(page, []byte(place)) {
		t.Error("the page shows more than the one picture that can be shown")
	}
	j.Files = func(string) ([]byte, error) { return nil, records.ErrDamaged }
	if _, err := NewDocument(j, r.now); !errors.Is(err, records.ErrDamaged) || !strings.Contains(err.Error(), "IMG_0042.jpg of entry 2") {
		t.Errorf("got %v, want ErrDamaged", err)
	}
}

func TestFold_attachments(t *testing.T) {
	r := newRig(t, "pump.yaml")
	r.attach("none", "a.txt", "a", []byte("x"))
	entries, err := r.book.Entries(ctx, r.id)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Fold(r.plan, entries); err == nil || !strings.Contains(err.Error(), `entry 2 (attach): check "none" is not in the plan`) {
		t.Errorf("got %v", err)
	}
}
