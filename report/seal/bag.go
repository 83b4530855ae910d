package seal

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"time"

	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/report/accepted"
	"handback/report/legend"
	"handback/report/page"
	"handback/report/workbook"
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
	bagAccepted   = bag.BagPayload + "acceptances/"
	bagHanded     = bag.BagPayload + "handover-data/"
	bagBranches   = bag.BagPayload + "branches/"
)

// Pack gives the sink a bag of the job as it stands: plan, entries, handover,
// attachments, signatures and the documents that were signed, with manifests, a note that tells how to check them
// without this program, and a legend that tells how to read them. The same job gives the same bytes. The handover shows no
// trend of earlier jobs, so that the bag alone tells how it came about.
//
// plan is what the job was opened with, program what calls itself the maker, and built
// what that was built from, "" where it is not known. j.Files must be at hand when there
// are attachments.
func Pack(to bag.BagSink, j *report.Job, plan []byte, program, built string) error {
	payload, err := bagPayload(j, plan)
	if err != nil {
		return err
	}
	about, err := aboutFiles(j)
	if err != nil {
		return err
	}
	if about[legend.Made], err = legend.MadeWith(program, built); err != nil {
		return err
	}
	info := bagInfo(j)
	info.Program = program
	return bag.WriteBag(to, info, about, payload)
}

// aboutFiles are the files of a bag about its record that the record alone gives, by name.
func aboutFiles(j *report.Job) (map[string][]byte, error) {
	out, err := legend.Files(j)
	if err != nil {
		return nil, err
	}
	note, err := bagNote(j)
	out[bag.BagNote] = []byte(note)
	return out, err
}

// bagInfo is what bag-info.txt says of a job, all but who packed it. The firm that tests
// hands over; a bag belongs with others of its order, or of its site where the plan gives
// no order.
func bagInfo(j *report.Job) bag.BagInfo {
	head, p := j.Head(), j.Plan
	info := bag.BagInfo{Date: head.At.Format(time.DateOnly), Organization: p.TestedBy.Name, Address: p.TestedBy.Address,
		Contact: p.TestedBy.Contact, Phone: p.TestedBy.Phone, Email: p.TestedBy.Email,
		Job: j.ID, Identifier: j.Identifier(), Description: p.Title + "; " + p.Site + "; " + p.Work, Group: cmp.Or(p.Order, p.Site),
		Entries: head.Seq, Head: head.Hash}
	for _, text := range []*string{&info.Organization, &info.Address, &info.Contact, &info.Phone, &info.Email, &info.Description, &info.Group} {
		*text = report.Flat(*text)
	}
	return info
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
	handover, err := handoverFiles(j)
	if err != nil {
		return nil, err
	}
	handed := map[string][]byte{}
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
	for name, make := range handover {
		out = append(out, bag.BagFile{Name: name, Content: make})
	}
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

// handoverFiles make the handover of a job in its three forms, by their names in a bag:
// each when its turn has come, so that one of them at most is held.
func handoverFiles(j *report.Job) (map[string]func() ([]byte, error), error) {
	d, err := report.NewDocument(j, j.Head().At)
	return map[string]func() ([]byte, error){
		bagText: func() ([]byte, error) {
			text, err := page.Text(d)
			return []byte(text), err
		},
		bagPage:     func() ([]byte, error) { return page.Make(d) },
		bagWorkbook: func() ([]byte, error) { return workbook.Make(d) },
	}, err
}

// signedFiles are what was signed, and by what keys, by their names in a bag; none
// when nothing is signed. A statement or an acceptance is named by the entry that holds it.
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
	for _, a := range accepted.All(j) {
		if a.Signed != nil {
			name := bagAccepted + strconv.Itoa(a.Entry) + ".json"
			out[name], out[name+".sig"] = []byte(a.Signed.Statement), []byte(a.Signed.Signature)
		}
	}
	if len(out) == 0 {
		return nil, nil
	}
	signers, err := j.Signers()
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
