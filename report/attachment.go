package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/plan"
	"handback/records/bag"
	"handback/records/chain"
	"handback/report/form"
	"handback/report/photo"
)

// Attachment is a file that belongs to a job or to one of its checks.
type Attachment struct {
	Seq       int
	At        time.Time
	By, Check string
	chain.Attached
}

// attach takes up the entry of a file.
func (j *Job) attach(e chain.Entry) error {
	a, err := chain.ReadAttached(e)
	if err != nil {
		return err
	}
	if e.Check != "" && j.State(e.Check) == nil {
		return fmt.Errorf("check %q is not in the plan", e.Check)
	}
	if a.Step != "" && (e.Check != "" || j.Plan.Step(a.Step) == nil) {
		return fmt.Errorf("step %q is not in the plan, or a check is named beside it", a.Step)
	}
	j.Attachments = append(j.Attachments, Attachment{e.Seq, e.At, e.By, e.Check, a})
	return nil
}

// PhotosMissing are the photographs that a check asks for and its newest attempt has
// not got: one attached before that attempt was begun shows what stood before.
func (j *Job) PhotosMissing(s *State) []string {
	since := 0
	if a := s.Last(); a != nil && a.Number > 1 {
		since = a.begun()
	}
	return j.missing(s.Check.Photos, func(a Attachment) bool { return a.Check == s.Check.ID && a.Seq >= since })
}

func (j *Job) missing(photos []string, fits func(Attachment) bool) []string {
	return slices.DeleteFunc(slices.Clone(photos), func(name string) bool {
		return slices.ContainsFunc(j.Attachments, func(a Attachment) bool { return a.Photo == name && fits(a) })
	})
}

// StepPhotosMissing are the photographs that a step asks for and has not got: one attached
// before it was undone shows what stood before.
func (j *Job) StepPhotosMissing(s *plan.Step) []string {
	return j.missing(s.Photos, func(a Attachment) bool { return a.Step == s.ID && a.Seq > j.undoneAt(s.ID) })
}

// StepPhotosOpen says which photographs a step that was done still lacks, "" when none.
func (j *Job) StepPhotosOpen(s *plan.Step) string {
	if _, done := j.Steps[s.ID]; !done {
		return ""
	}
	return photosWords(j.StepPhotosMissing(s))
}

// lacks tells of a step that was done and lacks photographs.
func (j *Job) lacks(s *plan.Step) []string {
	if why := j.StepPhotosOpen(s); why != "" {
		return []string{fmt.Sprintf("the step %s: %s", s.ID, why)}
	}
	return nil
}

// photoGaps are the photographs of steps above a hold point that it waits for.
func (j *Job) photoGaps(h *plan.Hold) []Gap {
	var out []Gap
	for _, it := range j.Plan.Items() {
		s := it.Does()
		if s != nil && s.ID == h.ID {
			break
		}
		if s != nil && j.StepPhotosOpen(s) != "" {
			out = append(out, Gap{Check: "step " + s.ID, Title: s.Action, Verdict: checks.Missing, Why: j.StepPhotosOpen(s)})
		}
	}
	return out
}

// PhotosOpen says which photographs a judged check still lacks, "" when none.
func (j *Job) PhotosOpen(s *State) string {
	if s.LastJudged() == nil {
		return ""
	}
	return photosWords(j.PhotosMissing(s))
}

func photosWords(missing []string) string {
	if len(missing) == 0 {
		return ""
	}
	return map[bool]string{true: "photograph", false: "photographs"}[len(missing) == 1] + " missing: " + strings.Join(missing, "; ")
}

// maxAttached bounds what is attached to one job, so that its bag can be packed.
const maxAttached = bag.MaxBagBytes - 128<<20

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
	Check, Title        string // of the check, or the step and its act; "" when it belongs to the job as a whole
	Name, Type, Caption string
	SHA256              string // of the file as it is kept
	Bytes               int
	Photo               string         // which photograph of its check it is, "" for any other file
	Dropped             bool           // its metadata was taken out before it was kept
	Document            string         // of a signature, "" for what a person attached
	Signature           int            // the entry of that signature
	Picture             *photo.Picture // nil for what is no picture, and where files are not at hand
	Remark              string         // why a picture is not shown
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
	if a.Photo != "" && a.Photo != a.Caption {
		words += ", photograph asked for: " + a.Photo
	}
	return JoinWords(words, a.Remark)
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
		if a.Form != "" { // the handover shows it in its place
			continue
		}
		line := AttachmentLine{Entry: a.Seq, When: Stamp(a.At), By: j.PersonName(a.By), Check: a.Check, Name: a.Name, Type: a.Type,
			Caption: a.Caption, SHA256: a.SHA256, Bytes: a.Bytes, Photo: a.Photo, Dropped: a.Dropped, Document: a.Document, Signature: signed[a.Seq]}
		if s := j.State(a.Check); s != nil {
			line.Title = s.Check.Title
		} else if st := j.Plan.Step(a.Step); st != nil {
			line.Check, line.Title = st.ID, st.Action
		}
		if j.Files != nil && (a.Type == chain.TypeJPEG || a.Type == chain.TypePNG) {
			content, err := j.Files(a.SHA256)
			if err != nil {
				return nil, fmt.Errorf("attachment %s of entry %d: %w", a.Name, a.Seq, err)
			}
			if p, err := photo.Bare(content); err != nil {
				line.Remark = "not shown: " + err.Error()
			} else {
				line.Picture = &p
			}
		}
		out = append(out, line)
	}
	return out, nil
}

// ownForm is the form that the plan in force gives, with the newest files that are kept
// for it; without them where no files are at hand. A file that this program cannot read
// is left out: no handover fails for how it looks.
func (j *Job) ownForm() (form.Form, error) {
	f := form.Form{Heading: j.Plan.Form.Heading, Number: j.Plan.Form.Number}
	for what, file := range map[string]string{chain.FormLogo: j.Plan.Form.Logo, chain.FormLabels: j.Plan.Form.Labels} {
		a := j.FormFile(what)
		if file == "" || a == nil || j.Files == nil {
			continue
		}
		content, err := j.Files(a.SHA256)
		if err != nil {
			return form.Form{}, fmt.Errorf("%s of the form, entry %d: %w", what, a.Seq, err)
		}
		if logo, err := form.ReadLogo(content); what == chain.FormLogo && err == nil {
			f.Logo = logo
		}
		if labels, err := form.ReadLabels(content); what == chain.FormLabels && err == nil {
			f.Labels = labels
		}
	}
	return f, nil
}

// FormFile is the newest file kept for the form, one of chain.FormFiles; nil for none.
func (j *Job) FormFile(what string) *Attachment {
	for i := range slices.Backward(j.Attachments) {
		if j.Attachments[i].Form == what {
			return &j.Attachments[i]
		}
	}
	return nil
}

// attachedWords tell an attachment in the log.
func attachedWords(a chain.Attached) string {
	return strings.Join([]string{a.Name, a.Caption, "SHA-256 " + a.SHA256}, ": ")
}

// MaxPictures bounds the pictures in a page or a workbook, so that it can still be
// opened and sent, and kept with a signature: as text they take a third more.
const MaxPictures = 12 << 20

func (r *ruleBook) document(e chain.Entry) {
	if d, err := chain.ReadAttached(e); err == nil && d.Document != "" && !r.signed(e) {
		r.found(e, "the %s of a signature, and no signature by %.60q follows it", d.Document, e.By)
	}
}

func (r *ruleBook) stamp(e chain.Entry) {
	if d, err := chain.ReadAttached(e); err == nil && d.Stamped >= e.Seq {
		r.found(e, "a time stamp of entry %d, which was not there yet", d.Stamped)
	}
}

// signed tells whether the document that an entry keeps is followed by the signature it
// belongs to, with nothing but documents between them.
func (r *ruleBook) signed(e chain.Entry) bool {
	for _, next := range r.job.Entries[e.Seq:] {
		if next.Kind == EntrySign {
			return next.By == e.By
		}
		if a, err := chain.ReadAttached(next); next.Kind != EntryAttach || err != nil || a.Document == "" {
			return false
		}
	}
	return false
}
