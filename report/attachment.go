package report

import (
	"fmt"
	"strings"
	"time"

	"handback/records"
)

// Attachment is a file that belongs to a job or to one of its checks.
type Attachment struct {
	Seq       int
	At        time.Time
	By, Check string
	records.Attached
}

// attach takes up the entry of a file.
func (j *Job) attach(e records.Entry) error {
	a, err := records.ReadAttached(e)
	if err != nil {
		return err
	}
	if e.Check != "" && j.State(e.Check) == nil {
		return fmt.Errorf("check %q is not in the plan", e.Check)
	}
	j.Attachments = append(j.Attachments, Attachment{e.Seq, e.At, e.By, e.Check, a})
	return nil
}

// maxAttached bounds what is attached to one job, so that its bag can be packed.
const maxAttached = records.MaxBagBytes - 128<<20

// RoomFor says why a file of so many bytes cannot be attached to the job, nil when
// it can.
func (j *Job) RoomFor(size int) error {
	total := size
	for _, a := range j.Attachments {
		total += a.Bytes
	}
	if total > maxAttached {
		return fmt.Errorf("the attachments of job %s would come to %d bytes; at most %d MiB go with one job", j.ID, total, maxAttached>>20)
	}
	return nil
}

// AttachmentLine is an attached file as a handover lists it.
type AttachmentLine struct {
	Entry               int
	When, By            string
	Check, Title        string // "" when it belongs to the job as a whole
	Name, Type, Caption string
	SHA256              string // of the file as it is kept
	Bytes               int
	Dropped             bool     // its metadata was taken out before it was kept
	Document            string   // of a signature, "" for what a person attached
	Signature           int      // the entry of that signature
	Picture             *Picture // nil for what is no picture, and where files are not at hand
	Remark              string   // why a picture is not shown
}

// Words tell what a line is beside its caption.
func (a AttachmentLine) Words() string {
	kind := a.Type
	if a.Document != "" {
		kind = fmt.Sprintf("the %s that was signed in entry %d", a.Document, a.Signature)
	}
	words := fmt.Sprintf("%s, %s, %s", a.Name, kind, Count(a.Bytes, "byte", "bytes"))
	if a.Dropped {
		words += ", kept without its metadata"
	}
	return joinWords(words, a.Remark)
}

// attachmentLines lists the files, with the pictures when the files are at hand.
func (j *Job) attachmentLines() ([]AttachmentLine, error) {
	var out []AttachmentLine
	signed := map[int]int{} // entry of a document → of its signature
	for _, s := range j.Signatures {
		for _, a := range s.Kept {
			signed[a.Seq] = s.Seq
		}
	}
	for _, a := range j.Attachments {
		line := AttachmentLine{Entry: a.Seq, When: stamp(a.At), By: j.PersonName(a.By), Check: a.Check, Name: a.Name, Type: a.Type,
			Caption: a.Caption, SHA256: a.SHA256, Bytes: a.Bytes, Dropped: a.Dropped, Document: a.Document, Signature: signed[a.Seq]}
		if s := j.State(a.Check); s != nil {
			line.Title = s.Check.Title
		}
		if j.Files != nil && (a.Type == records.TypeJPEG || a.Type == records.TypePNG) {
			content, err := j.Files(a.SHA256)
			if err != nil {
				return nil, fmt.Errorf("attachment %s of entry %d: %w", a.Name, a.Seq, err)
			}
			if p, err := Bare(content); err != nil {
				line.Remark = "not shown: " + err.Error()
			} else {
				line.Picture = &p
			}
		}
		out = append(out, line)
	}
	return out, nil
}

// attachedWords tell an attachment in the log.
func attachedWords(a records.Attached) string {
	return strings.Join([]string{a.Name, a.Caption, "SHA-256 " + a.SHA256}, ": ")
}
