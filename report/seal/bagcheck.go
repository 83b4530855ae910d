package seal

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"slices"
	"strings"

	"handback/checks/plan"
	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
)

// Examined is what examining a bag, a workbook or what was signed showed.
type Examined struct {
	Job    *report.Job // nil when the record could not be followed
	Plan   []byte      // of a bag: what the job was opened with
	Faults []string    // what is wrong, each with its place, and how much more there is
	Notes  []string    // what came later or cannot be told
	Shown  []string    // what was compared and agrees; it counts only where there are no faults
	Missed []string    // what was not compared, and why
	Partly bool        // so that it cannot be said of the whole that it holds together

	Removed *Removed      // what was removed from a bag, nil where nothing was
	Left    []chain.Entry // its entries then; of those removed number and hash alone

	faults chain.Faults // what Faults lists once all is examined
}

func (x *Examined) found(format string, args ...any) { x.faults.Add(fmt.Sprintf(format, args...)) }

func (x *Examined) shows(format string, args ...any) {
	x.Shown = append(x.Shown, fmt.Sprintf(format, args...))
}

func (x *Examined) misses(format string, args ...any) {
	x.Missed = append(x.Missed, fmt.Sprintf(format, args...))
}

// told is what was examined, as it is handed out.
func (x *Examined) told() Examined {
	x.Faults = x.faults.List()
	return *x
}

// ExamineBag examines all of a bag but its signatures, which CheckSignatures of the
// job tells: every file against the manifests and the manifests against the files;
// every entry and the chain; the plan; every finding, judged again; every attachment;
// what was signed; and the handover, by the data it carries. The words of page, text
// and note count as those of the record only where this program makes the same.
func ExamineBag(b *bag.Bag) Examined {
	x := Examined{}
	for _, f := range b.Check() {
		x.found("%s", f)
	}
	if len(b.Refused) == 0 {
		x.shows("nothing in the bag was changed, put in or taken out since it was packed")
	}
	x.examine(b)
	x.Partly = len(x.Missed) > 0 // nothing in a bag changes after it was packed
	return x.told()
}

// BagJob is the job of a bag, its chain followed and every finding judged again. What else
// is in the bag is not looked at: that was done when it was received.
func BagJob(b *bag.Bag) (*report.Job, error) {
	x := Examined{}
	info, err := b.Info()
	if err != nil {
		return nil, err
	}
	if x.readRecord(b, info); x.Job == nil || len(x.faults.List()) > 0 {
		return nil, fmt.Errorf("its record cannot be followed: %s", strings.Join(x.faults.List(), "; "))
	}
	return x.Job, nil
}

func (x *Examined) examine(b *bag.Bag) {
	if len(b.Refused) > 0 {
		x.misses("anything in it: nothing was read")
		return
	}
	if b.Repacked() {
		x.Notes = append(x.Notes, "the archive is not byte for byte the one that handback packs; its files, their names and their lengths agree with its list")
	}
	if isReduced(b) {
		x.reduced(b)
		return
	}
	info, err := b.Info()
	if err != nil { // Check has named it
		info = bag.BagInfo{}
	}
	plan := x.readRecord(b, info)
	x.Plan = plan
	if x.Job == nil {
		x.misses("the record, for it could not be followed, and the handover in the bag")
		return
	}
	for _, d := range append(slices.Clip(x.Job.Differs), x.Job.RuleFaults()...) {
		x.found("%s", d)
	}
	x.shows("its chain of entries is unbroken; every finding follows from its readings")
	if !x.attachments(b) {
		x.misses("the handover in the bag and what was signed, for not all attachments are there")
		return
	}
	x.signed(x.Job)
	x.compare(b, plan, info)
}

// readRecord reads entries and plan of a bag and folds them into the job.
func (x *Examined) readRecord(b *bag.Bag, info bag.BagInfo) (pl []byte) {
	entries := x.readEntries(b, bagEntries, bagHashes, nil)
	if len(entries) == 0 {
		return nil
	}
	last := entries[len(entries)-1]
	if info.Job != "" && (info.Job != last.Job || info.Entries != len(entries) || info.Head != last.Hash) {
		x.found("%s tells of job %s with %d entries and head %s; %s holds job %s with %d and head %s",
			bag.BagInfoFile, info.Job, info.Entries, info.Head, bagEntries, last.Job, len(entries), last.Hash)
	}
	pl, err := b.Read(bagPlan)
	if err != nil {
		x.lost(err)
		return nil
	}
	opened, err := report.Decode[report.Opened](entries[0])
	if err != nil {
		x.found("%s, entry 1: %v", bagEntries, err)
		return nil
	}
	if got := chain.HashPlan(pl); got != opened.PlanHash {
		x.found("%s is not the plan the job was opened with: its SHA-256 is %s, entry 1 says %s", bagPlan, got, opened.PlanHash)
		return nil
	}
	p, err := plan.Load(bagPlan, pl)
	if err != nil {
		x.found("%v", err)
		return nil
	}
	if x.Job, err = report.Fold(p, entries); err != nil {
		x.found("%s: %v", bagEntries, err)
		x.Job = nil
		return pl
	}
	x.readBranches(b, p)
	return pl
}

// readBranches reads the other continuations of the job in a bag, judges each again, and
// finds those that were joined and are not there.
func (x *Examined) readBranches(b *bag.Bag, p *plan.Plan) {
	main := chain.Line{Entries: x.Job.Entries}
	for _, name := range b.Names() {
		stem, ok := strings.CutSuffix(name, ".jsonl")
		if !ok || !strings.HasPrefix(name, bagBranches) {
			continue
		}
		if len(x.Job.Lines) == chain.MaxLines {
			x.found("%s: more than %d continuations of one job are not read", name, chain.MaxLines)
			break
		}
		switch entries := x.readEntries(b, name, stem+".txt", main.Entries); {
		case len(entries) == 0:
		case entries[0].Hash != main.Entries[0].Hash:
			x.found("%s: it is no continuation of this job", name)
		default:
			x.Job.Lines = append(x.Job.Lines, chain.Line{Entries: entries})
		}
	}
	for i, l := range x.Job.Lines {
		bodies, _ := branchFiles(l)
		j, err := report.Fold(p, l.Entries)
		if err != nil {
			x.found("%s: %v", bodies, err)
			continue
		}
		j.Lines = append(slices.Delete(slices.Clone(x.Job.Lines), i, i+1), main)
		for _, d := range append(slices.Clip(j.Differs), j.RuleFaults()...) {
			x.found("%s: %s", bodies, d)
		}
	}
	for _, seq := range fork.Missing(x.Job.Entries, x.Job.Lines) {
		x.found("the continuation that entry %d joins is not in the bag", seq)
	}
	if len(x.Job.Lines) > 0 {
		x.shows("what other continuations of the job hold, from where they part on")
	}
	for _, f := range x.Job.Forks() {
		x.Notes = append(x.Notes, "the job "+x.Job.ForkWords(f))
	}
}

// lost names a file that cannot be read, unless a manifest has named it already.
func (x *Examined) lost(err error) {
	name, _, _ := strings.Cut(err.Error(), ":")
	if errors.Is(err, fs.ErrNotExist) {
		err = fmt.Errorf("%s is missing", name)
	}
	if !slices.ContainsFunc(x.faults.List(), func(f string) bool { return strings.HasPrefix(f, name+" ") || strings.HasPrefix(f, name+":") }) {
		x.found("%v", err)
	}
}

// readEntries reads entries of a bag, checks their chain, and holds the list of hashes
// against them; what begins behind one of those before it goes on from there. Faults leave
// nothing to fold.
func (x *Examined) readEntries(b *bag.Bag, bodies, list string, before []chain.Entry) []chain.Entry {
	var entries []chain.Entry
	var hashes []byte
	sound, read := true, 0
	wrong := func(format string, args ...any) {
		sound = false
		x.found(bodies+format, args...)
	}
	err := b.Lines(bodies, chain.MaxBody, func(n int, line []byte) bool {
		if n > maxBagEntries {
			wrong(": it has more than %d lines, which is as many entries as are read", maxBagEntries)
			return false
		}
		e, err := chain.ParseEntry(bytes.Clone(line))
		if err != nil {
			wrong(", line %d: %v", n, err)
			return !x.faults.Full()
		}
		if read++; n == 1 && 1 < e.Seq && e.Seq <= len(before)+1 {
			entries = before[: e.Seq-1 : e.Seq-1]
		}
		entries = append(entries, e)
		hashes = fmt.Appendf(hashes, "%d %s\n", e.Seq, e.Hash)
		return true
	})
	switch {
	case errors.Is(err, fs.ErrNotExist):
		x.lost(err)
		return nil
	case err != nil:
		x.found("%v", err)
		return nil
	}
	for _, f := range chain.CheckChain(entries) {
		wrong(": %s", f)
	}
	if read == 0 && sound {
		wrong(" holds no entry")
	}
	if is, err := b.Read(list); err != nil {
		x.lost(err)
	} else if !bytes.Equal(is, hashes) {
		x.found("%s does not list the hashes of %s: line %d differs", list, bodies, firstDifference(is, hashes))
	}
	if !sound {
		return nil
	}
	return entries
}

// firstDifference is the number of the first line in which two texts differ.
func firstDifference(a, b []byte) int {
	n := 1
	for i := 0; i < len(a) && i < len(b) && a[i] == b[i]; i++ {
		if a[i] == '\n' {
			n++
		}
	}
	return n
}

// attachments holds every attached file against its entry, and says whether all are
// there. From then on the job reads them from the bag.
func (x *Examined) attachments(b *bag.Bag) bool {
	whole := true
	names := map[string]string{} // hash → file
	for _, a := range allAttached(x.Job) {
		name := attachedFile(a)
		content, err := b.Read(name)
		switch {
		case err != nil:
			whole = false
			x.lost(err)
		case chain.HashFile(content) != a.SHA256 || len(content) != a.Bytes:
			whole = false
			x.found("%s is not the file that entry %d names: its SHA-256 is %s", name, a.Seq, chain.HashFile(content))
		}
		names[a.SHA256] = name
	}
	x.Job.Files = func(hash string) ([]byte, error) { return b.Read(names[hash]) }
	return whole
}
