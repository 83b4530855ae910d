package chain

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
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

const EntryVersion = 1

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

// Entry is one line of a job's chain. Neither Data nor Body may be written to.
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
	var sum [sha256.Size]byte
	var text [2 * sha256.Size]byte
	hex.Encode(text[:], h.Sum(sum[:0]))
	return string(text[:])
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

// entryBody is how an entry is written; its head and data are as they were read.
type entryBody struct {
	Head
	Check *string         `json:"check,omitempty"` // left out when there is none, never empty
	Data  json.RawMessage `json:"data"`
}

func (b entryBody) canonical() ([]byte, error) {
	if b.Check != nil && *b.Check == "" {
		return nil, errors.New("check is empty; it is left out when there is none")
	}
	raw, err := json.Marshal(b)
	if err != nil {
		return nil, err
	}
	return jcs.Transform(raw)
}

// EncodeEntry makes the entry for a head and canonical data.
func EncodeEntry(h Head, data []byte) (Entry, error) {
	if err := h.valid(); err != nil {
		return Entry{}, err
	}
	b := entryBody{Head: h, Data: data}
	if h.Check != "" {
		b.Check = &h.Check
	}
	body, err := b.canonical()
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
	b, err := readBody(body)
	if err != nil {
		return Entry{}, fmt.Errorf("entry: %w", err)
	}
	if b.Data[0] != '{' {
		return Entry{}, fmt.Errorf("entry: data is %.20s, an object is wanted", b.Data)
	}
	if b.Check != nil {
		b.Head.Check = *b.Check
	}
	if err := b.valid(); err != nil {
		return Entry{}, err
	}
	return Entry{Head: b.Head, Data: b.Data, Body: body, Hash: HashBody(body)}, nil
}

// readBody takes only bytes that writing what they say gives again, so that nothing is
// missing, unknown, there twice or spelt in another way.
func readBody(body []byte) (entryBody, error) {
	if b, ok := quickBody(body); ok {
		return b, nil
	}
	return carefulBody(body)
}

func carefulBody(body []byte) (entryBody, error) {
	var b entryBody
	err := json.Unmarshal(body, &b)
	var again []byte
	if err == nil {
		again, err = b.canonical()
	}
	if err == nil && bytes.Equal(again, body) {
		return b, nil
	}
	if strict := DecodeStrict(body, &b); strict != nil { // says more of what is wrong
		return entryBody{}, strict
	}
	if err == nil {
		err = errNotCanonical
	}
	return entryBody{}, err
}

// timeForm is how a moment is written.
const timeForm = time.RFC3339Nano

// parseTime accepts only what writing the time again gives back.
func parseTime(text string) (time.Time, error) {
	t, err := time.Parse(timeForm, text)
	if err == nil && t.Format(timeForm) != text {
		err = errors.New("not in its shortest form")
	}
	if err != nil {
		return time.Time{}, fmt.Errorf("entry: at %q: RFC 3339 with offset is wanted: %w", text, err)
	}
	return t, nil
}

func (h Head) valid() error {
	if h.V != EntryVersion {
		return fmt.Errorf("entry: version %d, this program knows %d: %w", h.V, EntryVersion, ErrNewer)
	}
	if _, _, err := SplitJob(h.Job); err != nil {
		return err
	}
	if h.Seq < 1 {
		return fmt.Errorf("entry: seq %d, the first is 1", h.Seq)
	}
	if !IsHash(h.Prev) {
		return fmt.Errorf("entry: prev %.70q, 64 lower-case hex digits are wanted", h.Prev)
	}
	if h.At.IsZero() {
		return errors.New("entry: it has no time; give the time of the reading")
	}
	if !writable(h.At) {
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

// writable tells whether a moment comes back from its text as it was.
func writable(t time.Time) bool {
	if _, east := t.Zone(); east%60 == 0 && -24*3600 < east && east < 24*3600 && 0 <= t.Year() && t.Year() <= 9999 {
		return true // as nearly all
	}
	back, err := parseTime(t.Format(timeForm))
	return err == nil && back.Equal(t)
}

// validText refuses what could make a line of the book show as something else.
func validText(name, text string, must bool) error {
	if err := CheckOneLine(name, text, must); err != nil {
		return fmt.Errorf("entry: %w", err)
	}
	return nil
}

// CheckOneLine says why a text is not one line of plain text.
func CheckOneLine(name, text string, must bool) error {
	if text == "" && must {
		return fmt.Errorf("%s is empty", name)
	}
	if printable(text) {
		return nil
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

// printable tells that a text is of printable ASCII alone, as nearly all ids are.
func printable(text string) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] > '~' {
			return false
		}
	}
	return true
}

// IsHash tells whether a text is a SHA-256 as it is written here: 64 lower-case hex digits.
func IsHash(text string) bool {
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

var ErrNewer = errors.New("written by a newer handback")

// opening is what the book itself reads from the data of a first entry.
type opening struct{ Nonce, PlanHash, Title string }

func ReadOpening(first Entry) (opening, error) {
	var members map[string]json.RawMessage
	if err := json.Unmarshal(first.Data, &members); err != nil {
		return opening{}, err
	}
	var o opening
	for key, into := range map[string]*string{"nonce": &o.Nonce, "plan_hash": &o.PlanHash} {
		if err := json.Unmarshal(members[key], into); err != nil || *into == "" {
			return opening{}, fmt.Errorf("data: %s is missing or not a text", key)
		}
	}
	if title, ok := members["title"]; ok {
		if err := json.Unmarshal(title, &o.Title); err != nil {
			return opening{}, errors.New("data: title is not a text")
		}
	}
	return o, nil
}
