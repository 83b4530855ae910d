package cmd

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"handback/testdata/outside"
)

// peopleJob is a job of the keyed plan with a finding that failed, signed by its engineer, and
// its plan with a relief engineer, dora, whose key is in keys/dora; the key of the engineer
// is revoked in it from a time on.
func peopleJob(t *testing.T, from string) (book, job, dir string) {
	t.Helper()
	book, job = keyedJob(t)
	dir = filepath.Dir(book)
	runs(t, exitDone, program(book, "handback", "done", job, "energise"))
	runs(t, exitDone, program(book, "handback", "enter", job, "hv", "meter=hvm", "value=11.25"))
	runs(t, exitDone, program(book, "handback", "sign", job, "--as", "engineer", "--key", "keys/ben", "--yes"))
	file := filepath.Join(dir, "relief.yaml")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, bytes.Replace(data, []byte(lostAt), []byte(from), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	return book, job, dir
}

// The key that an amendment takes away, from a time that has come, does not accept it: the
// owner's does.
func TestAmend_lostKey(t *testing.T) {
	book, job, _ := peopleJob(t, "2026-05-12T08:30:00+01:00")
	runs(t, exitDone, program(book, "handback", "amend", job, "relief.yaml", "--by", "ada", "--why", "laptop of Ben stolen"))
	said := runs(t, exitFailed, program(book, "handback", "amend", job, "--accept", "--by", "ben", "--why", "Dora takes over", "--key", "keys/ben", "--yes"))
	if !strings.Contains(said, "not accepted: by a key not known: key SHA256:") {
		t.Error(said)
	}
	runs(t, exitDone, program(book, "handback", "amend", job, "--accept", "--by", "cleo", "--why", "Dora takes over", "--key", "keys/cleo", "--yes"))
	if said := runs(t, exitNotReady, program(book, "handback", "status", job)); strings.Contains(said, "the plan was amended") {
		t.Error(said)
	}
}

// A relief engineer comes in and a lost key goes out by an amendment that a key accepts
// which was listed before: the owner's, signed with ssh-keygen elsewhere.
func TestAmend_people(t *testing.T) {
	outside.Tool(t, "ssh-keygen")
	book, job, dir := peopleJob(t, "2026-05-12T10:30:00+01:00") // after the signature
	says := func(status int, want string, args ...string) {
		t.Helper()
		if said := runs(t, status, program(book, append([]string{"handback"}, args...)...)); !strings.Contains(said, want) {
			t.Errorf("%v: %s, want %q", args, said, want)
		}
	}
	accept := []string{"accept", job, "hv", "--why", "supply is high today", "--yes"}
	says(exitUsage, `no person "dora" in the plan`, append(accept, "--by", "dora", "--key", "keys/dora")...)
	says(exitDone, "not ready until an engineer's key accepts it", "amend", job, "relief.yaml", "--by", "ada", "--why", "laptop of Ben stolen, Dora takes over")
	says(exitFailed, "is nobody in the plan", append(accept, "--by", "dora", "--key", "keys/dora")...)
	says(exitFailed, "is no engineer of the plan as it was last decided", "amend", job, "--accept", "--by", "dora", "--why", "I take over", "--key", "keys/dora", "--yes")
	says(exitFailed, "is no engineer of the plan as it was last decided", "amend", job, "--accept", "--by", "ada", "--why", "Dora takes over", "--key", "keys/ada", "--yes")
	says(exitFailed, "Dora Example is engineer only by an amendment", "sign", job, "--as", "engineer", "--by", "dora", "--key", "keys/dora", "--yes")
	says(exitFailed, "an acceptance is signed", "amend", job, "--accept", "--by", "cleo", "--why", "Dora takes over")
	says(exitDone, "ssh-keygen -Y sign -f KEY -n handback-acceptance people.json", "amend", job, "--accept", "--by", "cleo", "--why", "agreed with Ben by telephone", "--unsigned", "-o", "people.json")
	if said, err := shell(t, dir, "ssh-keygen -Y sign -f keys/cleo -n handback-acceptance people.json"); err != nil {
		t.Fatal(err, said)
	}
	says(exitDone, "accepted by Cleo Example: agreed with Ben by telephone\nsigned with key SHA256:", "amend", job, "--signature", "people.json.sig")
	says(exitFailed, "the plan lists no key for Ben Example", append(accept, "--by", "ben", "--key", "keys/ben")...)
	says(exitDone, "accepted by Dora Example: supply is high today\nsigned with key SHA256:", append(accept, "--by", "dora", "--key", "keys/dora")...)
	// what was signed before the key was lost stands
	says(exitDone, ": good", "verify", job)
	says(exitDone, "record intact", "verify", job)
	// and ssh-keygen says so too, by the list that goes with it
	commands := runs(t, exitDone, program(book, "handback", "statement", job, "-o", "out"))
	line := commands[strings.Index(commands, "ssh-keygen -Y verify"):]
	line, _, _ = strings.Cut(line, "\n")
	if said, err := shell(t, dir, line); err != nil || !strings.Contains(said, "Good") {
		t.Errorf("%s: %v %s", line, err, said)
	}
	if said, err := shell(t, dir, strings.Replace(line, "verify-time=20260512", "verify-time=20260513", 1)); err == nil {
		t.Errorf("a day later the key is good still: %s", said)
	}
	sound(t, book)
}

// What was signed after the key was lost is by a key not known, and the record is whole.
func TestAmend_lostBefore(t *testing.T) {
	book, job, _ := peopleJob(t, "2026-05-12T02:00:00+01:00") // before the signature
	runs(t, exitDone, program(book, "handback", "accept", job, "hv", "--by", "ben", "--why", "supply is high today", "--key", "keys/ben", "--yes"))
	if said := runs(t, exitNotReady, program(book, "handback", "status", job)); !strings.Contains(said, "fail, accepted  HV volts") {
		t.Fatalf("%s", said)
	}
	runs(t, exitDone, program(book, "handback", "amend", job, "relief.yaml", "--by", "ada", "--why", "laptop of Ben stolen, Dora takes over"))
	runs(t, exitDone, program(book, "handback", "amend", job, "--accept", "--by", "cleo", "--why", "agreed with Ben by telephone", "--key", "keys/cleo", "--yes"))
	said := runs(t, exitNotReady, program(book, "handback", "status", job))
	if strings.Contains(said, "fail, accepted") || !strings.Contains(said, "NOT SHOWN TO BE GOOD") {
		t.Errorf("%s", said)
	}
	said = runs(t, exitDone, program(book, "handback", "verify", job))
	if !strings.Contains(said, "record intact") || !strings.Contains(said, "by a key not known") || !strings.Contains(said, "is revoked from 2026-05-12 02:00:00 +01:00 on: the laptop was stolen") || strings.Count(said, ": by a key not known\n") != 2 || strings.Count(said, ": good") != 1 { // that of the plan

		t.Errorf("%s", said)
	}
	sound(t, book)
}

// Where a plan lists keys, a person whom it lists none for signs with none.
func TestSign_unlistedPerson(t *testing.T) {
	dir := t.TempDir()
	if err := keyedPlan(dir); err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(filepath.Join(dir, "keyed.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	plan := regexp.MustCompile(`role: technician, keys: \[[^]]*\]`).ReplaceAll(data, []byte("role: technician"))
	if len(plan) == len(data) {
		t.Fatalf("%s", data)
	}
	if err := os.WriteFile(filepath.Join(dir, "plan.yaml"), plan, 0o600); err != nil {
		t.Fatal(err)
	}
	book := filepath.Join(dir, "book.db")
	job := openJob(t, book)
	if said := runs(t, exitFailed, program(book, "handback", "sign", job, "--as", "technician", "--key", "keys/ada", "--yes")); !strings.Contains(said, "the plan lists keys, and none for Ada Example: one comes in by an amendment of the plan") {
		t.Errorf("%s", said)
	}
	runs(t, exitDone, program(book, "handback", "sign", job, "--as", "engineer", "--key", "keys/ben", "--yes"))
	sound(t, book)
}
