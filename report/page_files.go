package report

import (
	"encoding/base64"
	"fmt"
	"html/template"
)

// maxPictures bounds the pictures in a page or a workbook, so that it can still be
// opened and sent, and kept with a signature: as text they take a third more.
const maxPictures = 12 << 20

// pageFile is an attachment as the page lists it.
type pageFile struct {
	AttachmentLine
	Anchor, Place, Words string
	Source               template.URL // the picture itself, "" for none
}

// newPageFiles lists the attachments, with pictures as long as there is room.
func newPageFiles(lines []AttachmentLine) []pageFile {
	var out []pageFile
	room := maxPictures
	for _, a := range lines {
		f := pageFile{AttachmentLine: a, Anchor: "attachment-" + itoa(a.Entry), Place: "the job as a whole"}
		if a.Signature > 0 {
			f.Place = "the signature of entry " + itoa(a.Signature)
		}
		if a.Check != "" {
			f.Place = a.Check + ", " + a.Title
		}
		if p := a.Picture; p != nil && len(p.Content) <= room {
			room -= len(p.Content)
			// Nothing of it is ours to escape: the type is one of two, the rest base64.
			f.Source = template.URL("data:" + p.Type + ";base64," + base64.StdEncoding.EncodeToString(p.Content))
		} else if p != nil {
			f.Remark = joinWords(f.Remark, fmt.Sprintf("not shown here: the pictures of a page have %d MiB at most", maxPictures>>20))
		}
		f.Words = f.AttachmentLine.Words()
		out = append(out, f)
	}
	return out
}
