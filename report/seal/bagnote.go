package seal

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"handback/records/chain"
	"handback/records/stamp"
	"handback/report"
	"handback/report/accepted"
	"handback/templates"
)

// howToCheck is what the template of the note places.
type howToCheck struct {
	Job, Title, Head, Deferral string
	Count                      int
	Amended                    []int // entries that amended the plan
	Files, Timed               bool  // a key is bounded in time, which a newer ssh-keygen alone looks at
	Signed                     []howSigned
	Accepted                   []string
	Acceptances                []howSigned
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
	Step, Entry              int
	Person, Verify, Of, Good string
	Covers                   string
	Documents                []howDocument
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
	list, err := j.Signers()
	if err != nil {
		return "", err
	}
	for _, c := range checked {
		if c.Doubt() != "" || c.Untold != "" {
			continue
		}
		st := c.Statement
		how := howSigned{Step: step, Entry: c.Seq, Covers: fmt.Sprintf("%d %s", st.Entries, st.Head)}
		if err := how.by(&h, list, chain.StatementNamespace, st.Person, st.At, c.Text, c.Armoured); err != nil {
			return "", err
		}
		for _, a := range c.Kept {
			how.Documents = append(how.Documents, howDocument{a.Document, attachedFile(a)})
		}
		h.Signed = append(h.Signed, how)
		step++
	}
	for _, a := range accepted.All(j) {
		h.Accepted = append(h.Accepted, fmt.Sprintf("entry %d, %s: accepted by %s; %s", a.Entry, a.Thing, j.PersonName(a.Person), a.Proof.Words()))
		if a.Signed == nil || a.Proof.Doubt() != "" {
			continue
		}
		is, err := chain.ParseAcceptance([]byte(a.Signed.Statement))
		if err != nil {
			return "", err
		}
		how := howSigned{Step: step, Entry: a.Entry, Of: a.Thing, Covers: fmt.Sprintf("%d %s", is.Entry, is.Hash)}
		if err := how.by(&h, list, chain.AcceptanceNamespace, is.Person, is.At, a.Signed.Statement, a.Signed.Signature); err != nil {
			return "", err
		}
		h.Acceptances = append(h.Acceptances, how)
		step++
	}
	if h.Stamps, err = howStamps(j, step); err != nil {
		return "", err
	}
	h.Branches = howParts(j, step+len(h.Stamps))
	note, err := templates.Report("how-to-check", h, nil)
	return strings.TrimLeft(note, "\n"), err
}

// by completes a step by how ssh-keygen checks a signature that is good, and what it prints.
func (how *howSigned) by(h *howToCheck, list chain.Signers, namespace, person string, at time.Time, text, armoured string) error {
	key, err := chain.CheckIn(namespace, []byte(text), armoured)
	if err != nil {
		return err
	}
	folder, when := map[string]string{chain.StatementNamespace: bagStatements, chain.AcceptanceNamespace: bagAccepted}[namespace], ""
	if list.Timed(person, key) {
		h.Timed, when = true, " -O verify-time="+at.In(time.UTC).Format("20060102150405")+"Z"
	}
	file := folder + strconv.Itoa(how.Entry) + ".json"
	how.Person = person
	how.Verify = fmt.Sprintf("ssh-keygen -Y verify -f %s -I '%s' -n %s%s -s %s.sig < %s", bagSigners, person, namespace, when, file, file)
	how.Good = fmt.Sprintf("Good %q signature for %s with %s key %s", namespace, person, keyWord(key.Type()), chain.Fingerprint(key))
	return nil
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
