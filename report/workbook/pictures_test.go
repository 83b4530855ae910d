package workbook

import (
	"bytes"
	"image"
	"image/png"
	"testing"

	"github.com/xuri/excelize/v2"

	"handback/records/chain"
	"handback/report"
	"handback/report/grid"
	"handback/report/photo"
	"handback/testdata/rig"
)

// A picture stands in the workbook as it is kept, under its caption and hash; a file
// that is no picture gets no place there, and one not at hand leaves the words alone.
func TestWorkbook_pictures(t *testing.T) {
	var pixels bytes.Buffer
	if err := png.Encode(&pixels, image.NewGray(image.Rect(0, 0, 1600, 900))); err != nil {
		t.Fatal(err)
	}
	r := rig.Told(t)
	d := r.Document(r.Now)
	d.Attachments = []report.AttachmentLine{
		{Entry: 21, Name: "board.png", Type: chain.TypePNG, Caption: "=the board", SHA256: "aa11", Bytes: pixels.Len(),
			Picture: &photo.Picture{Type: chain.TypePNG, Content: pixels.Bytes(), Width: 1600, Height: 900}},
		{Entry: 22, Name: "sheet.pdf", Type: "application/pdf", Caption: "maker's sheet", SHA256: "bb22"},
		{Entry: 23, Name: "far.png", Type: chain.TypePNG, Caption: "not at hand", SHA256: "cc33"},
	}
	data, err := Make(d)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Make(d)
	if err != nil || !bytes.Equal(data, again) {
		t.Errorf("the same pictures give other bytes, %v", err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("Pictures")
	if err != nil {
		t.Fatal(err)
	}
	words, under := map[string]bool{}, ""
	for i, row := range rows {
		for _, cell := range row {
			words[cell] = true
			if cell == "aa11" {
				under = grid.Cell{Sheet: "Pictures", Row: i + 2, Col: 1}.Name()
			}
		}
	}
	for want, stands := range map[string]bool{"=the board": true, "aa11": true, "not at hand": true, "cc33": true, "maker's sheet": false} {
		if words[want] != stands {
			t.Errorf("%q stands on the sheet of pictures: %v, want %v", want, words[want], stands)
		}
	}
	got, err := f.GetPictures("Pictures", under)
	if err != nil || len(got) != 1 || !bytes.Equal(got[0].File, pixels.Bytes()) {
		t.Errorf("%d pictures under the hash at %s, %v; want the one as it is kept", len(got), under, err)
	}
}
