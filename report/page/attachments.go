package page

import (
	"encoding/base64"
	"fmt"
	"html/template"
	"strconv"

	"handback/report"
	"handback/report/photo"
)

// pageFile is an attachment as the page lists it.
type pageFile struct {
	report.AttachmentLine
	Anchor, Place, Words string
	Source               template.URL // the picture itself, "" for none
}

// embedded is a picture as a page holds it. Nothing of it is ours to escape: the type is
// one of two, the rest base64.
func embedded(p *photo.Picture) template.URL {
	return template.URL("data:" + p.Type + ";base64," + base64.StdEncoding.EncodeToString(p.Content))
}

// newPageFiles lists the attachments, with pictures as long as there is room.
func newPageFiles(lines []report.AttachmentLine) []pageFile {
	var out []pageFile
	room := report.MaxPictures
	for _, a := range lines {
		f := pageFile{AttachmentLine: a, Anchor: "attachment-" + strconv.Itoa(a.Entry), Place: "the job as a whole"}
		if a.Signature > 0 {
			f.Place = "the signature of entry " + strconv.Itoa(a.Signature)
		}
		if a.Check != "" {
			f.Place = a.Check + ", " + a.Title
		}
		if p := a.Picture; p != nil && len(p.Content) <= room {
			room -= len(p.Content)
			f.Source = embedded(p)
		} else if p != nil {
			f.Remark = report.JoinWords(f.Remark, fmt.Sprintf("not shown here: the pictures of a page have %d MiB at most", report.MaxPictures>>20))
		}
		f.Words = f.AttachmentLine.Words()
		out = append(out, f)
	}
	return out
}
