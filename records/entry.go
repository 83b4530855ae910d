package records

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/gowebpki/jcs"
)

// Bounds on what is stored. They keep a slip (a photograph in a note) out of a book
// that is read whole.
const (
	MaxBody = 1 << 20  // bytes of one entry's body
	MaxPlan = 4 << 20  // bytes of one plan
	MaxFile = 20 << 20 // bytes of one attached file
)

const entryVersion = 1

// Head is what every entry says about itself. Its JSON names are those of the body.
type Head struct {
	V     int       `json:"v"`
	Job   string    `json:"job"`
	Seq   int       `json:"seq"`  // 1 is the first of the job
	Prev  string    `json:"prev"` // hash of the entry before, or the genesis
	At    time.Time `json:"at"`   // with the offset of the person's clock
	By    string    `json:"by"`
	Kind  string    `json:"kind"`
	Check string    `json:"check,omitempty"`
}

// Entry is one line of a job's chain. Data points into Body; neither may be written to.
type Entry struct {
	Head
	Data json.RawMessage // canonical JSON object
	Body []byte          // the exact stored bytes that were hashed
	Hash string          // hex SHA-256, see the package comment
}

// Draft is what the caller gives for an entry. The book adds job, seq and prev.
type Draft struct {
	At    time.Time // any offset of whole minutes; not the zero time
	By    string    // not empty; By, Kind and Check hold no control character
	Kind  string    // not empty
	Check string    // may be empty
	Data  any       // marshals to a JSON object; numbers that a double cannot hold go as text
	File  []byte    // content of the file that a draft of KindAttach names; nil for others
}

// HashBody is the hash of an entry with this body.
func HashBody(body []byte) string {
	h := sha256.New()
	h.Write([]byte("handback entry v1\n"))
	h.Write(body)
	return hex.EncodeToString(h.Sum(nil))
}

// Genesis is what the first entry of a job has as its prev.
func Genesis(job, nonce string) string {
	h := sha256.Sum256([]byte("handback job v1\n" + job + "\n" + nonce))
	return hex.EncodeToString(h[:])
}

// HashPlan is the hash a plan is kept by: plain SHA-256, so that sha256sum agrees.
func HashPlan(plan []byte) string {
	h := sha256.Sum256(plan)
	return hex.EncodeToString(h[:])
}

// encodeEntry makes the entry for a head and canonical data.
func encodeEntry(h Head, data []byte) (Entry, error) {
	if err := h.valid(); err != nil {
		return Entry{}, err
	}
	raw, err := json.Marshal(struct {
		Head
		Data json.RawMessage `json:"data"`
	}{h, data})
	if err != nil {
		return Entry{}, err
	}
	body, err := jcs.Transform(raw)
	if err != nil {
		return Entry{}, err
	}
	return ParseEntry(body)
}

// ParseEntry reads one body, as stored in a book or in a bag, and works out its
// hash. It accepts only bytes that the book would have written: canonical form,
// the known members and no others, a known version. The links of the chain are not
// looked at, see CheckChain.
//
// Errors: ErrNewer for a version this program does not know; otherwise what is
// wrong and where.
func ParseEntry(body []byte) (Entry, error) {
	if len(body) > MaxBody {
		return Entry{}, fmt.Errorf("entry of %d bytes: at most %d are kept; put large things in a file and record its hash", len(body), MaxBody)
	}
	members, err := canonicalMembers(body)
	if err != nil {
		return Entry{}, fmt.Errorf("entry: %w", err)
	}
	e := Entry{Body: body}
	if err := e.take(members); err != nil {
		return Entry{}, err
	}
	if err := e.valid(); err != nil {
		return Entry{}, err
	}
	e.Hash = HashBody(body)
	return e, nil
}

// take fills the entry from the members of its body, in their canonical order.
func (e *Entry) take(members []member) error {
	i := 0
	next := func(key string) ([]byte, error) {
		if i >= len(members) || members[i].key != key {
			if i < len(members) && members[i].key < key {
				return nil, fmt.Errorf("entry: unknown member %q", members[i].key)
			}
			return nil, fmt.Errorf("entry: member %q is missing", key)
		}
		i++
		return members[i-1].value, nil
	}
	text := func(key string, into *string) error {
		v, err := next(key)
		if err == nil && v[0] != '"' {
			err = fmt.Errorf("entry: %s is %.20s, a text is wanted", key, v)
		}
		if err == nil {
			*into = unquote(v)
		}
		return err
	}
	number := func(key string, into *int) error {
		v, err := next(key)
		if err == nil {
			if *into, err = strconv.Atoi(string(v)); err != nil {
				err = fmt.Errorf("entry: %s is %.20s, a whole number is wanted", key, v)
			}
		}
		return err
	}
	var at string
	err := text("at", &at)
	if err == nil {
		e.At, err = parseTime(at)
	}
	if err == nil {
		err = text("by", &e.By)
	}
	if err == nil && i < len(members) && members[i].key == "check" {
		if err = text("check", &e.Check); err == nil && e.Check == "" {
			err = errors.New("entry: check is empty; it is left out when there is none")
		}
	}
	if err == nil {
		e.Data, err = next("data")
	}
	if err == nil && e.Data[0] != '{' {
		err = fmt.Errorf("entry: data is %.20s, an object is wanted", e.Data)
	}
	for _, step := range []func() error{
		func() error { return text("job", &e.Job) },
		func() error { return text("kind", &e.Kind) },
		func() error { return text("prev", &e.Prev) },
		func() error { return number("seq", &e.Seq) },
		func() error { return number("v", &e.V) },
	} {
		if err == nil {
			err = step()
		}
	}
	if err == nil && i < len(members) {
		err = fmt.Errorf("entry: unknown member %q", members[i].key)
	}
	return err
}

// parseTime accepts only what writing the time again gives back.
func parseTime(text string) (time.Time, error) {
	t, err := time.Parse(time.RFC3339Nano, text)
	if err == nil && t.Format(time.RFC3339Nano) != text {
		err = errors.New("not in its shortest form")
	}
	if err != nil {
		return time.Time{}, fmt.Errorf("entry: at %q: RFC 3339 with offset is wanted: %w", text, err)
	}
	return t, nil
}

func (h Head) valid() error {
	if h.V != entryVersion {
		return fmt.Errorf("entry: version %d, this program knows %d: %w", h.V, entryVersion, ErrNewer)
	}
	if _, _, err := splitJob(h.Job); err != nil {
		return err
	}
	if h.Seq < 1 {
		return fmt.Errorf("entry: seq %d, the first is 1", h.Seq)
	}
	if !isHash(h.Prev) {
		return fmt.Errorf("entry: prev %.70q, 64 lower-case hex digits are wanted", h.Prev)
	}
	if h.At.IsZero() {
		return errors.New("entry: it has no time; give the time of the reading")
	}
	if back, err := parseTime(h.At.Format(time.RFC3339Nano)); err != nil || !back.Equal(h.At) {
		return fmt.Errorf("entry: time %s cannot be written as RFC 3339; years 0 to 9999 and offsets of whole minutes can", h.At)
	}
	if err := validText("by", h.By, true); err != nil {
		return err
	}
	if err := validText("kind", h.Kind, true); err != nil {
		return err
	}
	return validText("check", h.Check, false)
}

// validText refuses what could make a line of the book show as something else.
func validText(name, text string, must bool) error {
	if err := oneLine(name, text, must); err != nil {
		return fmt.Errorf("entry: %w", err)
	}
	return nil
}

// oneLine says why a text is not one line of plain text.
func oneLine(name, text string, must bool) error {
	if text == "" && must {
		return fmt.Errorf("%s is empty", name)
	}
	if !utf8.ValidString(text) {
		return fmt.Errorf("%s %q is not valid UTF-8", name, text)
	}
	for _, r := range text {
		if unicode.IsControl(r) || unicode.In(r, unicode.Zl, unicode.Zp) {
			return fmt.Errorf("%s %q holds the control character %U; take it out", name, text, r)
		}
	}
	return nil
}

func isHash(text string) bool {
	if len(text) != hex.EncodedLen(sha256.Size) {
		return false
	}
	for i := range len(text) {
		if c := text[i]; !('0' <= c && c <= '9' || 'a' <= c && c <= 'f') {
			return false
		}
	}
	return true
}
