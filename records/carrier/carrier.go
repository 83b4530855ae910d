package carrier

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"handback/records/chain"
)

// Bounds of a carrier. What is larger goes as a bag.
const (
	MaxBytes   = 64 << 20
	MaxEntries = 100_000
)

// Carrier is entries of one job on their way to another record book.
type Carrier struct {
	Job        string            // as it was opened
	Identifier string            // hash of the first entry of the job
	Head       string            // hash of the newest entry of the line it was made from
	Entries    []chain.Entry     // of that line, behind them those of others that it joined
	Plan       []byte            // nil where the first entry is not carried
	Files      map[string][]byte // attachments that the entries name, by their SHA-256
}

// first is the first line of a carrier.
type first struct {
	Carrier    int      `json:"carrier"` // version of the form
	Job        string   `json:"job"`
	Identifier string   `json:"identifier"`
	Head       string   `json:"head"`
	Entries    int      `json:"entries"`
	Plan       bool     `json:"plan"`
	Files      []string `json:"files"`
}

const version = 1

// Encode writes the carrier. Of the same content it makes the same bytes.
func (c Carrier) Encode() ([]byte, error) {
	f := first{version, c.Job, c.Identifier, c.Head, len(c.Entries), c.Plan != nil, slices.Sorted(maps.Keys(c.Files))}
	if f.Files == nil {
		f.Files = []string{}
	}
	head, err := chain.CanonicalObject(f)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	line := func(text []byte) { out.Write(text); out.WriteByte('\n') }
	coded := func(content []byte) { line([]byte(base64.StdEncoding.EncodeToString(content))) }
	line(head)
	for _, e := range c.Entries {
		line(e.Body)
	}
	if c.Plan != nil {
		coded(c.Plan)
	}
	for _, h := range f.Files {
		coded(c.Files[h])
	}
	sum := sha256.Sum256(out.Bytes())
	line([]byte(hex.EncodeToString(sum[:])))
	if out.Len() > MaxBytes {
		return nil, fmt.Errorf("the carrier has %d bytes, at most %d are carried; pack the whole job as a bag", out.Len(), MaxBytes)
	}
	return out.Bytes(), nil
}

// ErrNotCarrier is what is no carrier at all.
var ErrNotCarrier = errors.New("not a carrier")

// Decode reads a carrier, plain or armoured. It is taken for hostile: only bytes that
// Encode would write are accepted, and every entry, the plan and every file by its hash.
// Whether the entries belong together is for who takes them to say.
func Decode(data []byte) (Carrier, error) {
	if len(data) > 2*MaxBytes {
		return Carrier{}, fmt.Errorf("%w: it has %d bytes", ErrNotCarrier, len(data))
	}
	if armoured(data) {
		var err error
		if data, err = unarmour(data); err != nil {
			return Carrier{}, err
		}
	}
	if !bytes.HasPrefix(data, []byte(`{"carrier":`)) {
		return Carrier{}, ErrNotCarrier
	}
	c, err := parse(data)
	if err != nil {
		return Carrier{}, fmt.Errorf("carrier: %w", err)
	}
	again, err := c.Encode()
	if err == nil && !bytes.Equal(again, data) {
		err = errors.New("carrier: it is not in the form that a carrier is written in")
	}
	if err != nil {
		return Carrier{}, err
	}
	return c, nil
}

func parse(data []byte) (Carrier, error) {
	if len(data) < sha256.Size*2+2 || data[len(data)-1] != '\n' {
		return Carrier{}, errors.New("it was cut off")
	}
	end := len(data) - sha256.Size*2 - 1
	if sum := sha256.Sum256(data[:end]); hex.EncodeToString(sum[:]) != string(data[end:len(data)-1]) {
		return Carrier{}, errors.New("its checksum does not fit: it was cut off or changed on its way; ask for it again")
	}
	lines := reader{rest: data[:end]}
	var f first
	if err := chain.DecodeStrict(lines.next(), &f); err != nil {
		var v struct{ Carrier int }
		if json.Unmarshal(data[:bytes.IndexByte(data, '\n')], &v) == nil && v.Carrier > version {
			return Carrier{}, chain.ErrNewer
		}
		return Carrier{}, fmt.Errorf("line 1: %w", err)
	}
	if f.Carrier != version {
		return Carrier{}, fmt.Errorf("version %d, this program knows %d: %w", f.Carrier, version, chain.ErrNewer)
	}
	if f.Entries < 1 || f.Entries > MaxEntries {
		return Carrier{}, fmt.Errorf("it says it has %d entries: 1 to %d are carried", f.Entries, MaxEntries)
	}
	c := Carrier{Job: f.Job, Identifier: f.Identifier, Head: f.Head, Files: map[string][]byte{}}
	for range f.Entries {
		e, err := chain.ParseEntry(lines.next())
		if err == nil && e.Job != f.Job {
			err = fmt.Errorf("it is of job %.80s, the carrier of %.80s", e.Job, f.Job)
		}
		if err != nil {
			return Carrier{}, fmt.Errorf("line %d: %w", lines.n, err)
		}
		c.Entries = append(c.Entries, e)
	}
	if err := c.files(f, &lines); err != nil {
		return Carrier{}, err
	}
	if len(lines.rest) > 0 {
		return Carrier{}, fmt.Errorf("line %d: more than the first line tells of", lines.n+1)
	}
	return c, c.named()
}

// files reads the plan and the attachments.
func (c *Carrier) files(f first, lines *reader) error {
	coded := func() ([]byte, error) {
		content, err := base64.StdEncoding.Strict().DecodeString(string(lines.next()))
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", lines.n, err)
		}
		return content, nil
	}
	if f.Plan {
		plan, err := coded()
		if err != nil {
			return err
		}
		if len(plan) == 0 || len(plan) > chain.MaxPlan {
			return fmt.Errorf("line %d: plan of %d bytes: 1 to %d are accepted", lines.n, len(plan), chain.MaxPlan)
		}
		c.Plan = plan
	}
	for _, hash := range f.Files {
		content, err := coded()
		if err != nil {
			return err
		}
		if chain.HashFile(content) != hash || len(content) > chain.MaxFile {
			return fmt.Errorf("line %d: it is not the attachment %.64s", lines.n, hash)
		}
		c.Files[hash] = content
	}
	return nil
}

// named finds attachments that no entry names, the lack of one, and a plan that is not
// that of the first entry.
func (c *Carrier) named() error {
	wanted := map[string]bool{}
	opened := false
	for _, e := range c.Entries {
		if e.Seq == 1 {
			o, err := chain.ReadOpening(e)
			if err != nil {
				return err
			}
			if c.Plan == nil || chain.HashPlan(c.Plan) != o.PlanHash {
				return errors.New("its plan is not the one the job was opened with")
			}
			opened = true
		}
		if e.Kind != chain.KindAttach {
			continue
		}
		a, err := chain.ReadAttached(e)
		if err != nil {
			return fmt.Errorf("entry %d: %w", e.Seq, err)
		}
		if _, ok := c.Files[a.SHA256]; !ok {
			return fmt.Errorf("entry %d: its attachment %s is missing", e.Seq, a.Name)
		}
		wanted[a.SHA256] = true
	}
	if c.Plan != nil && !opened {
		return errors.New("it carries a plan, and not the entry that was opened with it")
	}
	if len(wanted) != len(c.Files) {
		return errors.New("it carries an attachment that none of its entries names")
	}
	return nil
}

// reader gives one line after another; behind the last it gives empty ones.
type reader struct {
	rest []byte
	n    int
}

func (r *reader) next() []byte {
	line, rest, _ := bytes.Cut(r.rest, []byte("\n"))
	r.rest = rest
	r.n++
	return line
}
