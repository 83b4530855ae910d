package seal

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"sync"

	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/report/legend"
)

// compare holds the payload of a bag, and what it says about itself, against what the
// record gives. What it was made with is not compared: the record does not tell.
func (x *Examined) compare(b *bag.Bag, plan []byte, info bag.BagInfo) {
	want, err := bagPayload(x.Job, plan)
	if err != nil {
		x.found("the bag cannot be made again from its record: %v", err)
		return
	}
	about, err := aboutFiles(x.Job)
	if err != nil {
		x.found("what the bag says about itself cannot be made again from its record: %v", err)
		return
	}
	d, err := report.NewDocument(x.Job, x.Job.Head().At)
	if err != nil {
		x.found("%v", err)
		return
	}
	for name, content := range about {
		if explains := info.Date != "" || name == bag.BagNote || slices.Contains(b.Names(), name); explains { // bags of before had no legend
			want = append(want, bag.BagFile{Name: name, Content: func() ([]byte, error) { return content, nil }})
		}
	}
	slices.SortFunc(want, func(a, b bag.BagFile) int { return strings.Compare(a.Name, b.Name) })
	known, exact, other := map[string]bool{}, []string{}, []string{}
	for _, f := range want {
		known[f.Name] = true
		if strings.HasPrefix(f.Name, bagAttached) { // held against its entry already
			continue
		}
		is, err := b.Read(f.Name)
		if errors.Is(err, fs.ErrNotExist) && (strings.HasPrefix(f.Name, bagAccepted) || f.Name == bagSigners && len(x.Job.Signatures) == 0) {
			continue // bags of before hold them in the entries alone
		}
		if err != nil {
			x.lost(err)
			continue
		}
		should, err := f.Content()
		if err != nil {
			x.found("%s: %v", f.Name, err)
			continue
		}
		if explains := about[f.Name] != nil && f.Name != bag.BagNote; explains && !bytes.Equal(is, should) {
			other = append(other, f.Name)
		} else if !bytes.Equal(is, should) {
			x.otherwise(f.Name, is, should, d)
		} else if slices.Contains([]string{bagWorkbook, bagPage, bagText, bag.BagNote}, f.Name) {
			exact = append(exact, f.Name)
		}
	}
	if len(exact) > 0 {
		x.shows("byte for byte what this program makes of the record: %s", strings.Join(exact, ", "))
	}
	for _, name := range b.Names() {
		if strings.HasPrefix(name, bag.BagPayload) && !known[name] {
			x.found("%s: nothing in the record tells of it", name)
		}
	}
	x.legend(info, other)
}

// legend tells whether what a bag says about its record is what this program says: other
// names those of its files that are not. A bag made before there was any has no date.
func (x *Examined) legend(info bag.BagInfo, other []string) {
	if info.Date != "" && info.OfRecord() != bagInfo(x.Job).OfRecord() {
		x.misses("%s: this program takes date, people or what the bag belongs to otherwise from the record", bag.BagInfoFile)
	}
	if len(other) > 0 {
		x.misses("%s: this program explains the record otherwise", strings.Join(other, ", "))
	} else if info.Date != "" {
		x.shows("%s and the schemas beside it explain the record as this program does", legend.Reading)
	}
}

// otherwise judges a file of a bag that is not what this program makes. Of the handover
// its data are compared, for another version words and lays it out otherwise; whatever
// else differs is a fault.
func (x *Examined) otherwise(name string, is, should []byte, d *report.Document) {
	switch name {
	case bagWorkbook:
		x.workbook(is, d, name+": ")
	case bagPage, bagText:
		if !carriesDigest(name, is, d.Digest) {
			x.found("%s does not name the handover data of the record, SHA-256 %s", name, d.Digest)
			return
		}
		x.misses("wording of %s (its data digest agrees); line %d is the first that this program words otherwise", name, firstDifference(is, should))
	case bag.BagNote:
		x.misses("%s: it is not the note that this program writes. Type nothing of it before somebody who knows the shell has read it", name)
	case bagHashes: // held against the entries already
	default:
		x.found("%s is not what the record gives: line %d differs", name, firstDifference(is, should))
	}
}

// pageDigest is where a page names the SHA-256 of its handover data.
var pageDigest = sync.OnceValue(func() *regexp.Regexp {
	return regexp.MustCompile(`<meta name="handover-data-sha256" content="([^"]*)"/>`)
})

// textDigest is a line with nothing but a digest.
var textDigest = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`(?m)^ *([0-9a-f]{64})$`) })

// carriesDigest tells whether a page or a text names the digest of the data it shows.
func carriesDigest(name string, content []byte, digest string) bool {
	if name == bagText {
		return slices.ContainsFunc(textDigest().FindAllSubmatch(content, -1), func(m [][]byte) bool { return string(m[1]) == digest })
	}
	all := pageDigest().FindAllSubmatch(content, -1)
	return len(all) == 1 && string(all[0][1]) == digest
}

// ExamineSigned holds the documents that are kept with the signatures of a job against
// the record as it stood when each was signed. j.Files must be at hand. Whether they
// are those that the statements name, CheckSignatures tells.
func ExamineSigned(j *report.Job) Examined {
	x := Examined{Job: j}
	x.signed(j)
	return x.told()
}

// maxSigned is of how many signatures, the newest, the documents are held against the
// record: a job has a handful, and each costs as much as a handover.
const maxSigned = 20

func (x *Examined) signed(j *report.Job) {
	newest := j.Signatures
	if n := len(newest) - maxSigned; n > 0 {
		newest, x.Partly = newest[n:], true
		x.misses("the documents of %s before the newest %d", report.Count(n, "signature", "signatures"), maxSigned)
	}
	for _, s := range newest {
		if len(s.Kept) == 0 {
			continue
		}
		then, err := j.Upto(s.Covers())
		if err != nil {
			x.found("%v", err)
			return
		}
		d, err := report.NewDocument(then, then.Head().At)
		if err != nil {
			x.found("%v", err)
			return
		}
		for _, a := range s.Kept {
			x.document(a, d)
		}
		x.shows("the documents that go with the signature of entry %d are stored, and carry the data of the record at entry %d", s.Seq, s.Covers())
	}
}

// document holds a document of a signature against what the record gave then. Its words
// are those that were signed, whatever this program would write.
func (x *Examined) document(a report.Attachment, d *report.Document) {
	where := fmt.Sprintf("the %s of entry %d: ", a.Document, a.Seq)
	content, err := x.Job.Files(a.SHA256)
	switch {
	case err != nil:
		x.found("%s%v", where, err)
	case a.Document == chain.DocumentWorkbook:
		var inner Examined
		inner.workbook(content, d, where)
		for _, f := range inner.faults.List() {
			x.found("%s", f)
		}
	case !carriesDigest(bagPage, content, d.Digest):
		x.found("%sit does not name the handover data of the record, SHA-256 %s", where, d.Digest)
	}
}
