package chain

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// KindAttach is the kind of an entry that a file belongs to. It is the one kind
// whose data the book itself reads, to keep the file and to look for it again.
const KindAttach = "attach"

// Media types of files that are told apart. All other files are kept unopened.
const (
	TypeJPEG  = "image/jpeg"
	TypePNG   = "image/png"
	TypePDF   = "application/pdf"
	TypeText  = "text/plain"
	TypeOther = "application/octet-stream"
)

// Attached is the data of an entry of KindAttach.
type Attached struct {
	Name    string `json:"name"`   // as CleanName gives it
	SHA256  string `json:"sha256"` // of the content, what sha256sum prints
	Bytes   int    `json:"bytes"`
	Type    string `json:"type"` // media type as MediaType tells it
	Caption string `json:"caption"`
	Dropped bool   `json:"dropped,omitempty"` // its metadata was taken out before it was kept

	// Document is one of Documents where signing made the file, "" for any other: then
	// it is what the person signed whose signature follows.
	Document string `json:"document,omitempty"`

	// Stamped is the entry whose hash an authority of time stamped in the file, its reply
	// of RFC 3161; 0 for any other file.
	Stamped int `json:"entry_stamped,omitempty"`

	// Photo is which photograph of its check or step it is, as the plan calls it; "" for
	// any other file.
	Photo string `json:"photo,omitempty"`

	// Form is one of FormFiles where the plan names the file for its form of handovers;
	// "" for any other file.
	Form string `json:"form,omitempty"`
	// Step is the step or hold point it belongs to, "" for none: the entry names a check.
	Step string `json:"step,omitempty"`
}

// Beside tells whether the file says nothing new of the job: a document as it was signed,
// or a time stamp.
func (a Attached) Beside() bool { return a.Document != "" || a.Stamped > 0 }

// FormFiles are the files that a plan may name for its form of handovers.
var FormFiles = []string{FormLogo, FormLabels}

const (
	FormLogo   = "logo"
	FormLabels = "labels"
)

// Documents are what is signed beside a statement, in the order they are kept in.
var Documents = []string{DocumentWorkbook, DocumentPage}

const (
	DocumentWorkbook = "workbook"
	DocumentPage     = "page"
)

// NewAttached is the data of the entry for a file. dropped says that the content
// is without the metadata it came with.
func NewAttached(name string, content []byte, caption string, dropped bool) Attached {
	return Attached{Name: CleanName(name), SHA256: HashFile(content), Bytes: len(content), Type: MediaType(content), Caption: caption, Dropped: dropped}
}

// HashFile is the hash an attachment is kept by: plain SHA-256.
func HashFile(content []byte) string {
	h := sha256.Sum256(content)
	return hex.EncodeToString(h[:])
}

// MediaType tells what a file is from its content, never from its name: by the first
// bytes as in WHATWG MIME Sniffing, section 6; text is UTF-8 without control
// characters but tab, line feed, form feed and carriage return.
func MediaType(content []byte) string {
	for _, known := range []struct{ begins, mediaType string }{
		{"\xff\xd8\xff", TypeJPEG}, {"\x89PNG\r\n\x1a\n", TypePNG}, {"%PDF-", TypePDF},
	} {
		if bytes.HasPrefix(content, []byte(known.begins)) {
			return known.mediaType
		}
	}
	control := func(r rune) bool { return unicode.IsControl(r) && !strings.ContainsRune("\t\n\f\r", r) }
	if len(content) == 0 || !utf8.Valid(content) || bytes.ContainsFunc(content, control) {
		return TypeOther
	}
	return TypeText
}

const maxName = 80

// CleanName makes a name that is safe on every system from the last part of a path:
// 1 to 80 of A-Z a-z 0-9 . _ - , the first no dot or dash, the last no dot. Other signs become one _,
// the ending is kept when the name is cut.
func CleanName(path string) string {
	name := path[strings.LastIndexAny(path, `/\`)+1:]
	var b strings.Builder
	for _, r := range name {
		if !SafeSign(r) {
			r = '_'
		}
		if s := b.String(); r == '_' && strings.HasSuffix(s, "_") {
			continue
		}
		b.WriteRune(r)
	}
	name = strings.TrimLeft(b.String(), ".-")
	if len(name) > maxName {
		end := name[strings.LastIndexByte(name, '.')+1:]
		if len(end) > 8 || len(end) == len(name) {
			name = name[:maxName]
		} else {
			name = name[:maxName-len(end)-1] + "." + end
		}
	}
	name = strings.TrimRight(name, ".")
	if strings.Trim(name, "_") == "" {
		return "file"
	}
	return name
}

func SafeSign(r rune) bool {
	return 'a' <= r && r <= 'z' || 'A' <= r && r <= 'Z' || '0' <= r && r <= '9' || r == '.' || r == '_' || r == '-'
}

// ReadAttached reads and checks the data of an entry of KindAttach.
func ReadAttached(e Entry) (Attached, error) {
	return readAttached(e.Data)
}

func readAttached(data json.RawMessage) (Attached, error) {
	var a Attached
	if err := DecodeStrict(data, &a); err != nil {
		return Attached{}, err
	}
	switch {
	case CleanName(a.Name) != a.Name:
		return Attached{}, fmt.Errorf("attachment name %.100q: %q is what would be kept", a.Name, CleanName(a.Name))
	case !IsHash(a.SHA256):
		return Attached{}, fmt.Errorf("sha256 %.70q: 64 lower-case hex digits are wanted", a.SHA256)
	case a.Document != "" && !slices.Contains(Documents, a.Document):
		return Attached{}, fmt.Errorf("document %.40q is not one of %s", a.Document, strings.Join(Documents, ", "))
	case a.Stamped < 0:
		return Attached{}, fmt.Errorf("entry %d is stamped, the first is 1", a.Stamped)
	case a.Form != "" && !slices.Contains(FormFiles, a.Form):
		return Attached{}, fmt.Errorf("form %.40q is not one of %s", a.Form, strings.Join(FormFiles, ", "))
	case a.Photo != "" && a.Type != TypeJPEG && a.Type != TypePNG:
		return Attached{}, fmt.Errorf("photograph %.100q of type %s: a JPEG or PNG picture is wanted", a.Photo, a.Type)
	case a.Bytes < 1 || a.Bytes > MaxFile:
		return Attached{}, fmt.Errorf("attachment %s of %d bytes: 1 to %d are accepted", a.Name, a.Bytes, MaxFile)
	}
	for what, text := range map[string]string{"photo": a.Photo, "step": a.Step} {
		if err := CheckOneLine(what, text, false); err != nil {
			return Attached{}, err
		}
	}
	return a, CheckOneLine("caption", a.Caption, true)
}

// Fits refuses a draft whose file is not the one its canonical data names.
func (d Draft) Fits(data []byte) error {
	if d.Kind != KindAttach {
		if d.File != nil {
			return fmt.Errorf("a file goes with kind %s alone", KindAttach)
		}
		return nil
	}
	if n := len(d.File); n == 0 || n > MaxFile {
		return fmt.Errorf("file of %d bytes: 1 to %d (%d MiB) are kept", n, MaxFile, MaxFile>>20)
	}
	a, err := readAttached(data)
	if err != nil {
		return err
	}
	want := NewAttached(a.Name, d.File, a.Caption, a.Dropped)
	want.Document, want.Stamped, want.Photo, want.Step, want.Form = a.Document, a.Stamped, a.Photo, a.Step, a.Form
	if a != want {
		return fmt.Errorf("it names %s %s of %d bytes, the file is %s %s of %d", a.Type, a.SHA256, a.Bytes, want.Type, want.SHA256, want.Bytes)
	}
	return nil
}
