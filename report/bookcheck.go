package report

import (
	"bytes"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// Claim is what a handover workbook says on its cover about the record it shows: the
// job at the top right, and the cells beside the labels "head hash" and "entries".
type Claim struct {
	Job, Head string
	Entries   int
}

const coverSheet = "Cover"

// ReadClaim reads the cover of a handover workbook from outside. The file is taken
// for hostile, as by ReadFieldSheet.
//
// Errors: no plain workbook, or none of these; then it is no handover.
func ReadClaim(data []byte) (Claim, error) {
	b, err := openHandover(data)
	if err != nil {
		return Claim{}, err
	}
	return b.claim()
}

func openHandover(data []byte) (*fileBook, error) {
	p, err := openParts(data)
	if err != nil {
		return nil, err
	}
	return readBook(p)
}

func (b *fileBook) claim() (Claim, error) {
	var c Claim
	count := ""
	for _, at := range slices.SortedFunc(maps.Keys(b.cells), compareCells) {
		text := b.cells[at].text
		if at.Sheet != coverSheet {
			continue
		}
		job, isJob := strings.CutPrefix(text, "job ")
		switch {
		case at.Row == 1 && isJob && c.Job == "":
			c.Job = job
		case at.Col == 1 && text == "head hash" && c.Head == "":
			c.Head = b.cells[at.In(2)].text
		case at.Col == 1 && text == "entries" && count == "":
			count = b.cells[at.In(2)].text
		}
	}
	n, err := strconv.Atoi(count)
	if c.Job == "" || c.Head == "" || err != nil {
		return Claim{}, errors.New("it is no handover of handback: its sheet Cover does not tell job, head hash and number of entries")
	}
	c.Entries = n
	return c, nil
}

// ExamineWorkbook holds a handover workbook against the job it says it shows: head
// and number of entries on its cover, every finding up to there judged again, and
// every cell against the one that this program makes of those entries. The job may
// have gone on since.
func ExamineWorkbook(data []byte, j *Job) Examined {
	x := Examined{}
	x.examineWorkbook(data, j)
	return x.told()
}

func (x *Examined) examineWorkbook(data []byte, j *Job) {
	is, err := openHandover(data)
	if err != nil {
		x.found("%s", Foreign{err}.Error())
		return
	}
	c, err := is.claim()
	switch {
	case err != nil:
		x.found("%v", err)
		return
	case c.Job != j.ID:
		x.found("%s: it shows job %.80q, not %s", coverSheet, c.Job, j.ID)
		return
	case c.Entries < 1 || c.Entries > len(j.Entries):
		x.found("%s: it shows %d entries, the record has %d", coverSheet, c.Entries, len(j.Entries))
		return
	case j.Entries[c.Entries-1].Hash != c.Head:
		x.found("%s: its head hash is not that of entry %d of the record: %.70q there, %s here", coverSheet, c.Entries, c.Head, j.Entries[c.Entries-1].Hash)
		return
	}
	if n := len(j.Entries) - c.Entries; n > 0 {
		x.Notes = append(x.Notes, fmt.Sprintf("the job has gone on: %s came after it", Count(n, "entry", "entries")))
	}
	then, err := Fold(j.Plan, j.Entries[:c.Entries])
	if err != nil {
		x.found("%v", err)
		return
	}
	then.Files, x.Job = j.Files, then
	for _, d := range append(slices.Clip(then.Differs), then.RuleFaults()...) {
		x.found("%s", d)
	}
	d, err := NewDocument(then, then.Head().At)
	if err != nil {
		x.found("%v", err)
		return
	}
	made, err := Workbook(d)
	if err != nil {
		x.found("%v", err)
		return
	}
	x.cells(is, made, "")
}

// workbook holds the workbook of a bag against the one the record gives; same says
// that the same program made both.
func (x *Examined) workbook(data, should []byte, name string, same bool) {
	if bytes.Equal(data, should) {
		return
	}
	is, err := openHandover(data)
	var c Claim
	if err == nil {
		c, err = is.claim()
	}
	if err != nil {
		x.found("%s: %s", name, Foreign{err}.Error())
		return
	}
	head := x.Job.Head()
	if c != (Claim{x.Job.ID, head.Hash, head.Seq}) {
		x.found("%s shows job %.80q, %d entries, head %.70q; the record is of job %s, %d entries, head %s", name, c.Job, c.Entries, c.Head, x.Job.ID, head.Seq, head.Hash)
	}
	if !same {
		return
	}
	if !x.cells(is, should, name+", ") {
		return
	}
	if part := differentPart(data, should); part != "" {
		x.found("%s: %s in it is not what the record gives", name, part)
	} else {
		x.Notes = append(x.Notes, name+": its bytes are not those this program makes, all in it is; it was packed anew")
	}
}

// differentPart is the first part in which two workbooks differ, "" for none.
func differentPart(a, b []byte) string {
	was, err := openParts(a)
	if err != nil {
		return "a part" // openHandover read it, so this does not come about
	}
	is, err := openParts(b)
	if err != nil {
		return "a part"
	}
	all := maps.Clone(was)
	maps.Copy(all, is)
	for _, name := range sortedKeys(all) {
		one, there := was[name]
		other, here := is[name]
		if there != here || !bytes.Equal(one, other) {
			return name
		}
	}
	return ""
}

// maxCells is how many cells that differ are told one by one.
const maxCells = 20

// filledSince begins the note on cells that somebody filled in.
const filledSince = "filled in since: "

// cells compares what the cells of a workbook show with those of the one that was
// made from the record, and says whether they agree. Cells that somebody filled in
// are notes.
func (x *Examined) cells(is *fileBook, made []byte, where string) bool {
	p, err := openParts(made)
	var should *fileBook
	if err == nil {
		should, err = readBook(p)
	}
	if err != nil {
		x.found("%sthe workbook that the record gives cannot be read back: %v", where, err)
		return false
	}
	all := maps.Clone(should.cells)
	maps.Copy(all, is.cells)
	differ, filled := []string{}, []string{}
	for _, at := range slices.SortedFunc(maps.Keys(all), compareCells) {
		got, want := is.cells[at], should.cells[at]
		switch {
		case got.formula != "" && want.formula == "":
			differ = append(differ, fmt.Sprintf("%s%s holds the formula %q, the record gives %q", where, at.place(), cutRunes(flat(got.formula), 120), cutRunes(flat(want.text), 120)))
		case got.shows == want.shows && flat(got.text) == flat(want.text), got.number && want.number && got.x == want.x:
		case want.text == "" && want.formula == "":
			filled = append(filled, fmt.Sprintf("%s %q", at.place(), cutRunes(flat(got.text), 60)))
		default:
			differ = append(differ, fmt.Sprintf("%s%s says %q, the record gives %q", where, at.place(), cutRunes(flat(got.text), 120), cutRunes(flat(want.text), 120)))
		}
	}
	if n := len(differ); n > maxCells {
		differ = append(differ[:maxCells], fmt.Sprintf("%sand %d more cells", where, n-maxCells))
	}
	for _, d := range differ {
		x.found("%s", d)
	}
	if len(differ) > 0 {
		x.Notes = append(x.Notes, where+"cells were compared with what this version of handback makes; another one may word them otherwise")
	}
	if n := len(filled); n > 0 {
		if n > maxCells {
			filled = append(filled[:maxCells], fmt.Sprintf("and %d more", n-maxCells))
		}
		x.Notes = append(x.Notes, where+filledSince+strings.Join(filled, ", "))
	}
	return len(differ) == 0
}
