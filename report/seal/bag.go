package seal

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/records/bag"
	"handback/records/chain"
	"handback/records/stamp"
	"handback/report"
	"handback/report/page"
	"handback/report/workbook"
	"handback/templates"
)

// Files of the payload of a bag.
const (
	bagPlan       = bag.BagPayload + "plan.yaml"
	bagEntries    = bag.BagPayload + "entries.jsonl"
	bagHashes     = bag.BagPayload + "hashes.txt"
	bagWorkbook   = bag.BagPayload + "handover.xlsx"
	bagText       = bag.BagPayload + "handover.txt"
	bagPage       = bag.BagPayload + "handover.html"
	bagSigners    = bag.BagPayload + "allowed_signers"
	bagAttached   = bag.BagPayload + "attachments/"
	bagStatements = bag.BagPayload + "statements/"
	bagHanded     = bag.BagPayload + "handover-data/"
	bagBranches   = bag.BagPayload + "branches/"
)

// Pack gives the sink a bag of the job as it stands: plan, entries, handover,
// attachments, signatures and the documents that were signed, with manifests and a note that tells how to check them
// without this program. The same job gives the same bytes. The handover shows no
// trend of earlier jobs, so that the bag alone tells how it came about.
//
// plan is what the job was opened with, program what calls itself the maker. j.Files
// must be at hand when there are attachments.
func Pack(to bag.BagSink, j *report.Job, plan []byte, program string) error {
	payload, err := bagPayload(j, plan)
	if err != nil {
		return err
	}
	note, err := bagNote(j)
	if err != nil {
		return err
	}
	head := j.Head()
	info := bag.BagInfo{Program: program, Job: j.ID, Description: report.Flat(j.Plan.Title), Entries: head.Seq, Head: head.Hash}
	return bag.WriteBag(to, info, []byte(note), payload)
}

// maxBagEntries is how many entries a job may have to be packed, and a bag to be read.
const maxBagEntries = 100_000

func bagPayload(j *report.Job, plan []byte) ([]bag.BagFile, error) {
	if len(j.Entries) > maxBagEntries {
		return nil, fmt.Errorf("job %s has %d entries: at most %d go into a bag", j.ID, len(j.Entries), maxBagEntries)
	}
	if len(j.Lines) > chain.MaxLines {
		return nil, fmt.Errorf("job %s has %d other continuations: at most %d go into a bag", j.ID, len(j.Lines), chain.MaxLines)
	}
	handed, err := handoverFiles(j)
	if err != nil {
		return nil, err
	}
	for _, a := range j.Amendments {
		handed[amendedPlan(a.Seq)] = []byte(a.Amended.Plan)
	}
	handed[bagPlan] = plan
	handed[bagEntries], handed[bagHashes] = entryFiles(j.Entries)
	for _, l := range j.Lines {
		bodies, hashes := branchFiles(l)
		handed[bodies], handed[hashes] = entryFiles(l.Entries[chain.Parting(j.Entries, l.Entries):])
	}
	signed, err := signedFiles(j)
	if err != nil {
		return nil, err
	}
	var out []bag.BagFile
	for _, files := range []map[string][]byte{handed, signed} {
		for name, content := range files {
			out = append(out, bag.BagFile{Name: name, Content: func() ([]byte, error) { return content, nil }})
		}
	}
	seen := map[string]bool{}
	for _, a := range allAttached(j) {
		name := attachedFile(a)
		if !seen[name] { // one file attached twice under one name is one file
			out = append(out, bag.BagFile{Name: name, Content: func() ([]byte, error) { return j.Files(a.SHA256) }})
		}
		seen[name] = true
	}
	return out, nil
}

// entryFiles are entries as a bag holds them: the bytes that were hashed, one a line, and the
// list of their hashes.
func entryFiles(entries []chain.Entry) (bodies, hashes []byte) {
	for _, e := range entries {
		bodies = append(append(bodies, e.Body...), '\n')
		hashes = fmt.Appendf(hashes, "%d %s\n", e.Seq, e.Hash)
	}
	return bodies, hashes
}

// branchFiles are where the entries of another continuation lie, from the parting on.
func branchFiles(l chain.Line) (bodies, hashes string) {
	name := bagBranches + chain.ShortHash(l.Head().Hash)
	return name + ".jsonl", name + ".txt"
}

// allAttached are the files that entries of the job name, and those of other continuations.
func allAttached(j *report.Job) []report.Attachment {
	out := slices.Clone(j.Attachments)
	for _, l := range j.Lines {
		for _, e := range l.Entries[chain.Parting(j.Entries, l.Entries):] {
			if a, err := chain.ReadAttached(e); err == nil && e.Kind == chain.KindAttach {
				out = append(out, report.Attachment{Seq: e.Seq, At: e.At, By: e.By, Check: e.Check, Attached: a})
			}
		}
	}
	return out
}

// amendedPlan is the plan that an entry put in force, beside the plan as opened.
func amendedPlan(entry int) string {
	return bag.BagPayload + "plan-amended-" + strconv.Itoa(entry) + ".yaml"
}

func attachedFile(a report.Attachment) string { return bagAttached + a.SHA256 + "-" + a.Name }

// handoverFiles are the handover of a job in its three forms, by their names in a bag.
func handoverFiles(j *report.Job) (map[string][]byte, error) {
	d, err := report.NewDocument(j, j.Head().At)
	if err != nil {
		return nil, err
	}
	text, err := page.Text(d)
	if err != nil {
		return nil, err
	}
	page, err := page.Make(d)
	if err != nil {
		return nil, err
	}
	book, err := workbook.Make(d)
	return map[string][]byte{bagText: []byte(text), bagPage: page, bagWorkbook: book}, err
}

// signedFiles are what was signed, and by what keys, by their names in a bag; none
// when the job is not signed. A statement is named by the entry that holds it.
func signedFiles(j *report.Job) (map[string][]byte, error) {
	out := map[string][]byte{}
	for _, s := range j.Signatures {
		name := strconv.Itoa(s.Seq) + ".json"
		out[bagStatements+name], out[bagStatements+name+".sig"] = []byte(s.Text), []byte(s.Armoured)
		if s.Unread != "" {
			continue
		}
		data, err := j.SignedData(s)
		if err != nil {
			return nil, err
		}
		out[bagHanded+name] = data
	}
	if len(out) == 0 {
		return nil, nil
	}
	signers, err := report.PlanSigners(j.Decided())
	list := []byte{}
	acceptances := signsAcceptances(j)
	for _, s := range signers {
		if !acceptances {
			s.Namespaces = chain.StatementNamespace
		}
		list = fmt.Appendln(list, s)
	}
	out[bagSigners] = list
	return out, err
}

// signsAcceptances tells whether a job has or demands a signed acceptance. A bag of a job
// without any lists its keys as bags did before acceptances were signed, to the byte.
func signsAcceptances(j *report.Job) bool {
	return j.SignsAcceptances() || slices.ContainsFunc(j.Entries, func(e chain.Entry) bool { return j.Proof(e.Seq).Key != "" })
}

// howToCheck is what the template of the note places.
type howToCheck struct {
	Job, Title, Head, Deferral string
	Count                      int
	Amended                    []int // entries that amended the plan
	Files                      bool
	Signed                     []howSigned
	Stamps                     []howStamped
	Branches                   []howParted
}

// howParted is another continuation of the job: where it parts, and the entry that joined it.
type howParted struct {
	Step, After, Count   int
	Joined, Superseded   int // the entry here that decided all of it; that there which decided all of this side
	Bodies, Hashes, Head string
}

type howStamped struct {
	Step, Entry    int
	Hash, File, At string
}

type howSigned struct {
	Step, Entry                     int
	Person, Namespace, Good, Covers string
	Documents                       []howDocument
}

type howDocument struct{ What, File string }

// bagNote is the note that tells how to check a bag. Only signatures that the plan's
// keys make good are given a step.
func bagNote(j *report.Job) (string, error) {
	head := j.Head()
	h := howToCheck{Job: j.ID, Title: report.Flat(j.Plan.Title), Head: head.Hash, Deferral: report.Deferral,
		Count: head.Seq, Files: len(allAttached(j)) > 0}
	for _, a := range j.Amendments {
		h.Amended = append(h.Amended, a.Seq)
	}
	checked, err := j.CheckSignatures(nil)
	if err != nil {
		return "", err
	}
	step := 6
	if h.Files {
		step++
	}
	for _, c := range checked {
		if c.Doubt() != "" || c.Untold != "" {
			continue
		}
		key, err := chain.CheckSignature([]byte(c.Text), c.Armoured)
		if err != nil {
			return "", err
		}
		st := c.Statement
		how := howSigned{Step: step, Entry: c.Seq, Person: st.Person, Namespace: chain.StatementNamespace, Covers: fmt.Sprintf("%d %s", st.Entries, st.Head),
			Good: fmt.Sprintf("Good %q signature for %s with %s key %s", chain.StatementNamespace, st.Person, keyWord(key.Type()), c.Key)}
		for _, a := range c.Kept {
			how.Documents = append(how.Documents, howDocument{a.Document, attachedFile(a)})
		}
		h.Signed = append(h.Signed, how)
		step++
	}
	if h.Stamps, err = howStamps(j, step); err != nil {
		return "", err
	}
	h.Branches = howParts(j, step+len(h.Stamps))
	note, err := templates.Report("how-to-check", h, nil)
	return strings.TrimLeft(note, "\n"), err
}

// howParts are the steps that check the other continuations, from a number on.
func howParts(j *report.Job, step int) []howParted {
	var out []howParted
	for _, l := range sorted(j.Lines) {
		bodies, hashes := branchFiles(l)
		h := howParted{Step: step + len(out), After: chain.Parting(j.Entries, l.Entries), Count: len(l.Entries), Bodies: bodies, Hashes: hashes, Head: l.Head().Hash}
		for _, x := range j.Joins {
			if x.Head == h.Head {
				h.Joined = x.Seq
			}
		}
		for _, f := range j.Forks() {
			if f.Head == h.Head {
				h.Superseded = f.Superseded
			}
		}
		out = append(out, h)
	}
	return out
}

// sorted are lines in an order that does not hang on the record book.
func sorted(lines []chain.Line) []chain.Line {
	return slices.SortedFunc(slices.Values(lines), func(a, b chain.Line) int { return strings.Compare(a.Head().Hash, b.Head().Hash) })
}

// howStamps are the steps that check the time stamps, from a number on.
func howStamps(j *report.Job, step int) (out []howStamped, err error) {
	for _, a := range j.Attachments {
		if a.Stamped == 0 {
			continue
		}
		data, err := j.Files(a.SHA256)
		if err != nil {
			return nil, err
		}
		t, err := stamp.Parse(data)
		if err != nil || a.Stamped > len(j.Entries) {
			continue // verify says what is wrong with it
		}
		out = append(out, howStamped{step + len(out), a.Stamped, j.Entries[a.Stamped-1].Hash, attachedFile(a), t.At.UTC().Format("Jan _2 15:04:05 2006 GMT")})
	}
	return out, nil
}

// keyWord is what ssh-keygen calls a type of key when it tells of one.
func keyWord(kind string) string {
	switch {
	case strings.HasPrefix(kind, "ecdsa-"):
		return "ECDSA"
	case kind == "ssh-rsa":
		return "RSA"
	}
	return "ED25519"
}
