package cmd

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"handback/testdata/outside"
)

// otherLaptop opens another job of the plan beside a book, in one of its own and under the
// same id, and gives what runs commands there.
func otherLaptop(t *testing.T, dir string) (at func(status int, args ...string) string) {
	t.Helper()
	laptop := filepath.Join(dir, "laptop.db")
	later := program(laptop, "handback", "open", "plan.yaml")
	later.Env = append(later.Env, clockVariable+"=2026-05-12T09:00:01+01:00")
	runs(t, exitDone, later)
	return func(status int, args ...string) string {
		t.Helper()
		return runs(t, status, program(laptop, append([]string{"handback"}, args...)...))
	}
}

// A policy knows two records apart that were opened under one id.
func TestVerify_knownLocalID(t *testing.T) {
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	at := otherLaptop(t, dir)
	at(exitDone, "pack", job, "-o", "laptop.zip")
	runs(t, exitDone, program(book, "handback", "take", "laptop.zip"))
	other := entriesOf(t, filepath.Join(dir, "laptop.db"), job)[0].Hash
	known := fmt.Sprintf("known: [{job: %s.%.12s, head: %s}, {job: %s.%.12s, entries: 3}]\nmust: [head]\n", job, other, other, job, entriesOf(t, book, job)[0].Hash)
	if err := os.WriteFile(filepath.Join(dir, "known.yaml"), []byte(known), 0o600); err != nil {
		t.Fatal(err)
	}
	if said := at(exitDone, "verify", job, "--policy", "known.yaml"); !strings.Contains(said, "it holds the 1 entry with the head hash that was known from elsewhere") {
		t.Errorf("%s", said)
	}
	if said := runs(t, exitIntegrity, program(book, "handback", "verify", job, "--policy", "known.yaml")); !strings.Contains(said, "it holds the 3 entries") || !strings.Contains(said, "REFUSED: the policy wants head") {
		t.Errorf("%s", said)
	}
}

// What is signed elsewhere names a job by the id it was opened under, also where this book
// holds it under another: it is taken in there, and nowhere else.
func TestSignedElsewhere_localID(t *testing.T) {
	outside.Tool(t, "ssh-keygen")
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	at := otherLaptop(t, dir)
	at(exitDone, "enter", job, "dead", "--file", "dead.txt")
	at(exitDone, "done", job, "energise")
	at(exitDone, "enter", job, "hv", "meter=hvm", "value=11.25")
	at(exitDone, "pack", job, "-o", "laptop.zip")
	here := func(status int, want string, args ...string) string {
		t.Helper()
		said := runs(t, status, program(book, append([]string{"handback"}, args...)...))
		if !strings.Contains(said, want) {
			t.Errorf("%v: %s, want %q", args, said, want)
		}
		return said
	}
	local := regexp.MustCompile(job + `\.[0-9a-f]{12}`).FindString(here(exitDone, "another job has the id", "take", "laptop.zip"))
	signs := func(namespace, key, file string) {
		t.Helper()
		if said, err := shell(t, dir, "ssh-keygen -Y sign -f keys/"+key+" -n "+namespace+" "+file); err != nil {
			t.Fatal(err, said)
		}
	}

	here(exitDone, "accept "+local+" --signature accept.json.sig", "accept", local, "hv", "--by", "ben", "--why", "supply is high today", "--unsigned", "-o", "accept.json")
	signs("handback-acceptance", "ben", "accept.json")
	here(exitFailed, "", "accept", job, "--signature", "accept.json.sig")
	here(exitDone, "signed with key SHA256:", "accept", local, "--signature", "accept.json.sig")
	here(exitFailed, "accept.json.sig: entry 7 keeps it already: nothing was recorded", "accept", local, "--signature", "accept.json.sig")

	here(exitDone, "amended", "amend", local, "--instrument", "dmm", "serial=EX-9", "--by", "ada", "--why", "misread when planned")
	here(exitDone, "amend "+local+" --signature plan.json.sig", "amend", local, "--accept", "--by", "ben", "--why", "seen on the label", "--unsigned", "-o", "plan.json")
	signs("handback-acceptance", "ben", "plan.json")
	here(exitDone, "signed with key SHA256:", "amend", local, "--signature", "plan.json.sig")
	here(exitFailed, "plan.json.sig: entry 9 keeps it already: nothing was recorded", "amend", local, "--signature", "plan.json.sig")

	here(exitDone, "sign "+local+" --signature state.json.sig", "statement", local, "--unsigned", "--as", "engineer", "-o", "state.json")
	signs("handback-statement", "ben", "state.json")
	here(exitFailed, "", "sign", job, "--signature", "state.json.sig")
	here(exitDone, "signed by Ben Example as engineer", "sign", local, "--signature", "state.json.sig")
	here(exitFailed, "state.json.sig: entry 12 keeps it already: nothing was recorded", "sign", local, "--signature", "state.json.sig")

	// what is signed for a job of another name is refused by that name
	here(exitDone, "", "statement", local, "--unsigned", "--as", "owner", "-o", "other.json")
	if said, err := shell(t, dir, `sed 's/"job":"`+job+`"/"job":"other-1"/' other.json > renamed.json`); err != nil {
		t.Fatal(said)
	}
	signs("handback-statement", "cleo", "renamed.json")
	here(exitFailed, "renamed.json.sig: it is of job other-1, not of "+job, "sign", local, "--signature", "renamed.json.sig")
	sound(t, book)
}
