package cmd

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What an engineer found is accepted with their key where the plan demands one: that
// somebody recorded it under their id proves nobody.
func TestFound_signed(t *testing.T) {
	dir := t.TempDir()
	if err := keyedPlan(dir); err != nil {
		t.Fatal(err)
	}
	read := func(name string) string {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		return string(data)
	}
	plan := read(filepath.Join(scripts, "shared", "section_b.yaml"))
	keyed := strings.Replace(strings.Replace(plan, "unsigned_acceptance: yes\n", "", 1), "role: engineer}", "role: engineer, keys: ["+strings.TrimSpace(read(filepath.Join(dir, "keys", "ben.pub")))+"]}", 1)
	if len(keyed) < len(plan) {
		t.Fatalf("%s", keyed)
	}
	if err := os.WriteFile(filepath.Join(dir, "plan.yaml"), []byte(keyed), 0o600); err != nil {
		t.Fatal(err)
	}
	book := filepath.Join(dir, "book.db")
	job := openJob(t, book)
	says := func(status int, want string, args ...string) {
		t.Helper()
		if said := runs(t, status, program(book, append([]string{"handback"}, args...)...)); !strings.Contains(said, want) {
			t.Errorf("%v: %s, want %q", args, said, want)
		}
	}
	says(exitDone, "found open", "found", job, "q2", "position=open", "--why", "it had tripped", "--by", "jonas")
	says(exitNotReady, "incomer Q2 found open, recorded was closed (entry 2): not accepted by an engineer", "status", job)
	says(exitFailed, "an acceptance is signed", "accept", job, "q2", "--by", "jonas", "--why", "the relay had tripped it")
	says(exitDone, "signed with key SHA256:", "accept", job, "q2", "--by", "jonas", "--why", "the relay had tripped it", "--key", "keys/ben", "--yes")
	says(exitDone, "record intact", "verify", job)
	sound(t, book)
}
