package seal

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"
	"time"

	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/report/legend"
	"handback/templates"
)

// Files of a reduced bag: one from which something was removed. The two lists are those
// of the bag as it was packed; they go on telling what was in it.
const (
	bagRemoved  = bag.BagPayload + "removed.json"
	bagWhole    = bag.BagPayload + "whole/"
	wholeFiles  = bagWhole + bag.FilesList
	wholeLists  = bagWhole + bag.ListsList
	bagHandover = bag.BagPayload + "handover." // .xlsx, .html, .txt
)

const removedVersion = 1

// Removed is what was removed from a bag, and stands in it as canonical JSON.
type Removed struct {
	V    int       `json:"v"`
	Job  string    `json:"job"` // its id
	Acts []Removal `json:"acts"`
}

// Removal is one act of removing.
type Removal struct {
	At      time.Time      `json:"at"`
	By      string         `json:"by"`
	Why     string         `json:"why"`
	Bag     string         `json:"bag"` // SHA-256 of the file it was removed from
	Entries []RemovedEntry `json:"entries"`
	Files   []RemovedFile  `json:"files"`
}

// RemovedEntry is an entry of which the hash alone is left.
type RemovedEntry struct {
	Entry int    `json:"entry"`
	Hash  string `json:"hash"`
}

// RemovedFile is a file of which the hash alone is left, the one of the list of files.
type RemovedFile struct {
	Name   string `json:"name"`
	SHA512 string `json:"sha512"`
}

// leftLine stands in the place of an entry that was removed.
type leftLine struct {
	V       int    `json:"v"`
	Removed bool   `json:"removed"`
	Seq     int    `json:"seq"`
	Hash    string `json:"hash"`
}

// Reduction says what is to be removed from a bag.
type Reduction struct {
	Entries []int    // by number; with an entry goes the file it attached
	Files   []string // of the payload, by name; one that the bag does not hold is passed over
	At      time.Time
	By, Why string
	Bag     string // SHA-256 of the bag's file
	Program string // what calls itself the maker of the reduced bag
}

// PlanFiles are the plan and the list of keys that is made of it.
var PlanFiles = []string{bagPlan, bagSigners}

// Reduce gives the sink the bag without what is to be removed. With it goes every document
// that shows the record as a whole (the handover, its data, what was signed, what somebody
// else went on with), for each may show what was removed. Of all that goes the hash stays.
// It gives removed.json.
//
// Errors: nothing to remove; an entry that is not there; a bag that is no longer what its
// lists say.
func Reduce(to bag.BagSink, b *bag.Bag, r Reduction) (removed []byte, err error) {
	c := reducer{bag: b, how: r, drop: map[string]bool{}}
	for _, name := range r.Files {
		c.drop[name] = true
	}
	if err := c.begin(); err != nil {
		return nil, err
	}
	entries, err := c.entries()
	if err != nil {
		return nil, err
	}
	payload, err := c.payload()
	if err != nil {
		return nil, err
	}
	asked := slices.ContainsFunc(c.act.Files, func(f RemovedFile) bool { return slices.Contains(r.Files, f.Name) })
	if len(c.act.Entries) == 0 && !asked {
		return nil, errors.New("nothing of that is there to remove")
	}
	c.removed.Acts = append(c.removed.Acts, c.act)
	if removed, err = chain.CanonicalObject(c.removed); err != nil {
		return nil, err
	}
	payload = append(payload, given(bagEntries, entries), given(bagRemoved, removed), given(wholeFiles, c.files), given(wholeLists, c.lists))
	note, err := templates.Report("removed", c.removed, nil)
	if err != nil {
		return nil, err
	}
	about, err := c.about()
	if err != nil {
		return nil, err
	}
	about[bag.BagNote] = []byte(strings.TrimLeft(note, "\n"))
	c.info.Program = r.Program
	if c.drop[bagPlan] { // what bag-info.txt took out of the plan goes with it
		c.info.Organization, c.info.Address, c.info.Contact, c.info.Phone, c.info.Email, c.info.Description, c.info.Group = "", "", "", "", "", "removed", ""
	}
	return removed, bag.WriteBag(to, c.info, about, payload)
}

// about are the files that explain a record, by name; they show nothing of what is in it.
func (c *reducer) about() (map[string][]byte, error) {
	out := map[string][]byte{}
	for _, name := range c.bag.Names() {
		if name != legend.Reading && name != legend.Made && !(strings.HasSuffix(name, ".schema.json") && !strings.Contains(name, "/")) {
			continue
		}
		var err error
		if out[name], err = c.bag.Read(name); err != nil {
			return nil, err
		}
	}
	return out, nil
}

func given(name string, content []byte) bag.BagFile {
	return bag.BagFile{Name: name, Content: func() ([]byte, error) { return content, nil }}
}

type reducer struct {
	bag          *bag.Bag
	how          Reduction
	info         bag.BagInfo
	removed      Removed
	act          Removal
	files, lists []byte            // the lists of the whole bag
	hashes       map[string]string // SHA-512 of its files
	drop         map[string]bool
}

// begin reads what is said of the whole bag, in it or in its lists.
func (c *reducer) begin() (err error) {
	if faults := c.bag.Check(); len(faults) > 0 {
		return fmt.Errorf("%s: %s", c.bag.Path, faults[0])
	}
	if c.info, err = c.bag.Info(); err != nil {
		return err
	}
	c.removed = Removed{V: removedVersion, Job: c.info.Job}
	files, lists := bag.FilesList, bag.ListsList
	if old, err := readRemoved(c.bag); err == nil {
		c.removed, files, lists = old, wholeFiles, wholeLists
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	if c.files, err = c.bag.Read(files); err == nil {
		c.lists, err = c.bag.Read(lists)
	}
	if err == nil {
		c.hashes, err = bag.ParseList(c.files)
	}
	h := c.how
	c.act = Removal{At: h.At.UTC().Truncate(time.Second), By: h.By, Why: h.Why, Bag: h.Bag, Entries: []RemovedEntry{}, Files: []RemovedFile{}}
	return errors.Join(err, chain.CheckOneLine("who removes", h.By, true), chain.CheckOneLine("why", h.Why, true))
}

// entries are the lines of entries.jsonl as they stay, and c.drop the files that go with
// an entry.
func (c *reducer) entries() ([]byte, error) {
	var out bytes.Buffer
	var wrong error
	found := map[int]bool{}
	err := c.bag.Lines(bagEntries, chain.MaxBody, func(n int, line []byte) bool {
		e, left, err := readLine(line)
		wrong = err
		if err == nil && left == nil && slices.Contains(c.how.Entries, e.Seq) {
			found[e.Seq] = true
			wrong = c.remove(e, &line)
		} else if left != nil && slices.Contains(c.how.Entries, left.Seq) {
			wrong = fmt.Errorf("entry %d was removed before", left.Seq)
		}
		if left == nil && err == nil && e.Kind == chain.KindAttach {
			wrong = errors.Join(wrong, c.document(e))
		}
		out.Write(line)
		out.WriteByte('\n')
		return wrong == nil
	})
	if err = errors.Join(err, wrong); err != nil {
		return nil, err
	}
	for _, seq := range c.how.Entries {
		if !found[seq] {
			return nil, fmt.Errorf("there is no entry %d; the bag has %s", seq, report.Count(c.info.Entries, "entry", "entries"))
		}
	}
	return out.Bytes(), nil
}

// remove takes out an entry, and the files that hold what it held.
func (c *reducer) remove(e chain.Entry, line *[]byte) (err error) {
	if e.Kind == chain.KindAttach {
		a, err := report.Decode[chain.Attached](e)
		if err != nil {
			return err
		}
		c.drop[bagAttached+a.SHA256+"-"+a.Name] = true
	}
	c.act.Entries = append(c.act.Entries, RemovedEntry{e.Seq, e.Hash})
	for _, suffix := range []string{".json", ".json.sig"} {
		c.drop[fmt.Sprint(bagStatements, e.Seq, suffix)] = true
		c.drop[fmt.Sprint(bagAccepted, e.Seq, suffix)] = true
	}
	c.drop[amendedPlan(e.Seq)] = true
	*line, err = chain.CanonicalObject(leftLine{removedVersion, true, e.Seq, e.Hash})
	return err
}

// document drops the file of an entry that keeps what was signed beside a statement.
func (c *reducer) document(e chain.Entry) error {
	a, err := report.Decode[chain.Attached](e)
	if err == nil && a.Document != "" {
		c.drop[bagAttached+a.SHA256+"-"+a.Name] = true
	}
	return err
}

// payload are the files that stay as they are; the rest is told by name and hash.
func (c *reducer) payload() (out []bag.BagFile, err error) {
	for _, name := range c.bag.Names() {
		switch {
		case !strings.HasPrefix(name, bag.BagPayload), name == bagEntries, name == bagRemoved, strings.HasPrefix(name, bagWhole):
		case c.drop[name], strings.HasPrefix(name, bagHandover), strings.HasPrefix(name, bagHanded), strings.HasPrefix(name, bagBranches):
			c.act.Files = append(c.act.Files, RemovedFile{name, c.hashes[name]})
		default:
			out = append(out, bag.BagFile{Name: name, Content: func() ([]byte, error) { return c.bag.Read(name) }})
		}
	}
	return out, nil
}

// readLine reads a line of entries.jsonl: an entry, or what is left of one.
func readLine(line []byte) (chain.Entry, *leftLine, error) {
	if !bytes.Contains(line, []byte(`"removed":true`)) || bytes.Contains(line, []byte(`"data":`)) {
		e, err := chain.ParseEntry(bytes.Clone(line))
		return e, nil, err
	}
	var l leftLine
	err := chain.DecodeStrict(line, &l)
	if err == nil && (l.V != removedVersion || !l.Removed || l.Seq < 1 || !chain.IsHash(l.Hash)) {
		err = errors.New("it tells of no entry that was removed")
	}
	return chain.Entry{}, &l, err
}

// readRemoved reads what was removed from a bag.
//
// Errors: fs.ErrNotExist where nothing was.
func readRemoved(b *bag.Bag) (Removed, error) {
	data, err := b.Read(bagRemoved)
	if err != nil {
		return Removed{}, err
	}
	return ReadRemoved(data)
}

// ReadRemoved reads removed.json of a reduced bag.
func ReadRemoved(data []byte) (Removed, error) {
	var r Removed
	if err := chain.DecodeStrict(data, &r); err != nil {
		return Removed{}, fmt.Errorf("%s: %w", bagRemoved, err)
	}
	if r.V != removedVersion {
		return Removed{}, fmt.Errorf("%s: version %d, this program knows %d: %w", bagRemoved, r.V, removedVersion, chain.ErrNewer)
	}
	again, err := chain.CanonicalObject(r)
	if err == nil && !bytes.Equal(again, data) {
		err = errors.New("not in canonical form")
	}
	for _, a := range r.Acts {
		err = errors.Join(err, chain.CheckOneLine("who removed", a.By, true), chain.CheckOneLine("why", a.Why, true))
	}
	if err == nil && len(r.Acts) == 0 {
		err = errors.New("it tells of nothing")
	}
	if err != nil {
		return Removed{}, fmt.Errorf("%s: %w", bagRemoved, err)
	}
	return r, nil
}

// ListOf is the SHA-256 of the list that leads to every file of a bag, of a reduced one to
// every file of the whole: the log of an archive names it.
func ListOf(b *bag.Bag) (string, error) {
	list, err := b.Read(wholeLists)
	if errors.Is(err, fs.ErrNotExist) {
		list, err = b.Read(bag.ListsList)
	}
	sum := sha256.Sum256(list)
	return hex.EncodeToString(sum[:]), err
}
