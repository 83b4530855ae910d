package seal

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
)

// Placed is where words stand in a bag.
type Placed struct {
	Entry int    `json:"entry,omitempty"`
	Kind  string `json:"kind,omitempty"` // of the entry
	File  string `json:"file,omitempty"`
}

// AttachedFiles are the files of a bag that entries attached, by name.
//
// Errors: an entry that is not there, or attached none.
func AttachedFiles(b *bag.Bag, entries []int) (out []string, err error) {
	found := map[int]string{}
	err = eachEntry(b, func(e chain.Entry) error {
		if e.Kind != chain.KindAttach {
			return nil
		}
		a, err := report.Decode[chain.Attached](e)
		found[e.Seq] = bagAttached + a.SHA256 + "-" + a.Name
		return err
	})
	for _, seq := range entries {
		if found[seq] == "" && err == nil {
			err = fmt.Errorf("entry %d attached no file that is there", seq)
		}
		out = append(out, found[seq])
	}
	return out, err
}

// Again is what of things removed elsewhere a bag holds: entries by number, and files.
// Documents of the whole record do not count: they go with whatever goes.
func Again(b *bag.Bag, acts []Removal) (entries []int, files []string, err error) {
	gone, lost := map[string]bool{}, map[string]bool{}
	for _, a := range acts {
		for _, e := range a.Entries {
			gone[e.Hash] = true
		}
		for _, f := range a.Files {
			lost[f.Name] = lost[f.Name] || len(a.Entries) == 0 || f.Name == bagPlan
		}
	}
	err = eachEntry(b, func(e chain.Entry) error {
		if gone[e.Hash] {
			entries = append(entries, e.Seq)
		}
		if e.Kind != chain.KindAttach {
			return nil
		}
		a, err := report.Decode[chain.Attached](e)
		if name := bagAttached + a.SHA256 + "-" + a.Name; a.Document == "" && lost[name] && !slices.Contains(files, name) {
			files = append(files, name)
		}
		return err
	})
	if lost[bagPlan] {
		files = append(files, PlanFiles...)
	}
	there := b.Names()
	return entries, slices.DeleteFunc(files, func(name string) bool { return !slices.Contains(there, name) }), err
}

// Places are the entries and files of a bag in which words stand, in any case of letters;
// of files the name counts, and the content of the plan.
func Places(b *bag.Bag, words string) (out []Placed, err error) {
	has := func(text string) bool { return strings.Contains(strings.ToLower(text), strings.ToLower(words)) }
	if err := eachEntry(b, func(e chain.Entry) error {
		if has(said(e.Body)) {
			out = append(out, Placed{Entry: e.Seq, Kind: e.Kind})
		}
		return nil
	}); err != nil {
		return nil, err
	}
	for _, name := range b.Names() {
		if !strings.HasPrefix(name, bag.BagPayload) || strings.HasPrefix(name, bagWhole) {
			continue
		}
		content := []byte(nil)
		if name == bagPlan {
			if content, err = b.Read(name); err != nil {
				return nil, err
			}
		}
		if has(name) || has(string(content)) {
			out = append(out, Placed{File: name})
		}
	}
	return out, nil
}

// said is a body without the marks that JSON puts before some signs.
func said(body []byte) string {
	return strings.NewReplacer(`\"`, `"`, `\n`, "\n", `\\`, `\`).Replace(string(body))
}

// eachEntry hands out the entries of a bag that are there.
func eachEntry(b *bag.Bag, do func(chain.Entry) error) error {
	var wrong error
	err := b.Lines(bagEntries, chain.MaxBody, func(_ int, line []byte) bool {
		e, left, err := readLine(line)
		if wrong = err; err == nil && left == nil {
			wrong = do(e)
		}
		return wrong == nil
	})
	return errors.Join(err, wrong)
}
