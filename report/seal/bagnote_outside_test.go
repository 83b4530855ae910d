package seal

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/records/bag"
	"handback/records/chain"
	"handback/records/stamp"
	"handback/report"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

// The note in the bag is followed to the letter by a shell that has none of our code.
func TestBagNote_outside(t *testing.T) {
	outside.Long(t)
	for _, tool := range []string{"sh", "sha256sum", "sha512sum", "ssh-keygen", "diff", "sed", "grep"} {
		outside.Tool(t, tool)
	}
	r := bagRig(t)
	good := pack(r)
	var documents []string
	for _, a := range r.Job().Signatures[0].Kept {
		documents = append(documents, attachedFile(a))
	}
	steps := noteSteps(t, string(good[bag.BagNote]))
	if len(steps) < 9 {
		t.Fatalf("only %d steps in the note", len(steps))
	}
	if wrong := follow(t, good, steps); len(wrong) > 0 {
		t.Errorf("the bag is sound; %q", wrong)
	}
	entries := strings.SplitAfter(string(good[bagEntries]), "\n")
	note := bagAttached + chain.HashFile([]byte("in order\n")) + "-note.txt"
	signed := bagStatements + fmt.Sprint(len(entries)-1) + ".json"
	for name, c := range map[string]struct {
		change func(pile)
		step   string // the first step, by its first words, that must tell
	}{
		"entry changed": {func(p pile) {
			p[bagEntries] = bytes.Replace(good[bagEntries], []byte(`"by":"ada"`), []byte(`"by":"eve"`), 1)
		}, "{ nonce="},
		"entry out":   {func(p pile) { p[bagEntries] = []byte(entries[0] + strings.Join(entries[2:], "")) }, "{ nonce="},
		"entries cut": {func(p pile) { p[bagEntries] = []byte(strings.Join(entries[:2], "")) }, "{ nonce="},
		"cut with hashes": {func(p pile) {
			n := 2
			p[bagEntries] = []byte(strings.Join(entries[:n], ""))
			p[bagHashes] = firstLines(good[bagHashes], n)
		}, "tail -n 1"},
		"no line feed":       {func(p pile) { p[bagEntries] = good[bagEntries][:len(good[bagEntries])-1] }, "{ nonce="},
		"plan":               {func(p pile) { p[bagPlan] = append([]byte("# \n"), good[bagPlan]...) }, `sed -n '1s/.*"plan_hash"`},
		"attachment":         {func(p pile) { p[note] = []byte("x") }, "for f in data/attachments"},
		"attachment gone":    {func(p pile) { delete(p, note) }, "for f in data/attachments"},
		"attachment of none": {func(p pile) { p[bagAttached+chain.HashFile(nil)+"-x"] = nil }, "for f in data/attachments"},
		"statement":          {func(p pile) { p[signed] = bytes.Replace(good[signed], []byte("ada"), []byte("eve"), 1) }, "ssh-keygen"},
		"signature":          {func(p pile) { p[signed+".sig"] = bytes.Replace(good[signed+".sig"], []byte("U1NI"), []byte("U2NI"), 1) }, "ssh-keygen"},
		"workbook signed":    {func(p pile) { p[documents[0]] = []byte("x") }, `sed 's|.*"workbook":`},
		"page signed gone":   {func(p pile) { delete(p, documents[1]) }, `sed 's|.*"page":`},
		"signers":            {func(p pile) { p[bagSigners] = nil }, "ssh-keygen"},
		"handed": {func(p pile) {
			for n := range good {
				if strings.HasPrefix(n, bagHanded) {
					p[n] = []byte("{}")
				}
			}
		}, `sed 's/.*"handover"`},
	} {
		p := maps.Clone(good)
		c.change(p)
		if wrong := follow(t, p, steps); len(wrong) == 0 || !strings.Contains(wrong[0], "sum --quiet") && !strings.HasPrefix(wrong[0], "{ cut") {
			t.Errorf("%s, manifests as they were: %q", name, wrong)
		}
		wrong := follow(t, p.again(t), steps)
		if !slices.ContainsFunc(wrong, func(w string) bool { return strings.HasPrefix(w, c.step) }) {
			t.Errorf("%s, manifests made anew: %q, want %s", name, wrong, c.step)
		}
	}
	extra := maps.Clone(good)
	extra["data/extra"] = []byte("x")
	if wrong := follow(t, extra, steps); len(wrong) != 1 || !strings.HasPrefix(wrong[0], "{ cut") {
		t.Errorf("a file that was put in: %q", wrong)
	}
}

// The note of a record with a time stamp tells openssl to check it, by an authority that
// the test makes.
func TestBagNote_stamped(t *testing.T) {
	outside.Long(t)
	a := outside.NewAuthority(t, []string{"ec", "-pkeyopt", "ec_paramgen_curve:P-256"}, "sha256", "sha256")
	r := bagRig(t)
	head := r.Job().Head()
	hash, err := hex.DecodeString(head.Hash)
	if err != nil {
		t.Fatal(err)
	}
	query, err := stamp.Query([32]byte(hash))
	if err != nil {
		t.Fatal(err)
	}
	reply := a.Reply(query)
	d := chain.NewAttached("head.tsr", reply, "time stamp", false)
	d.Stamped = head.Seq
	if _, err := r.Book.Append(rig.Ctx, r.ID, -1, chain.Draft{At: r.Now, By: r.By, Kind: report.EntryAttach, Data: d, File: reply}); err != nil {
		t.Fatal(err)
	}
	good := pack(r)
	steps := noteSteps(t, string(good[bag.BagNote]))
	for name, ca := range map[string]string{"its own": "ca.pem", "another": "tsa.pem"} {
		dir := good.folder(t)
		if err := os.WriteFile(filepath.Join(filepath.Dir(dir), "ca.pem"), a.Read(ca), 0o600); err != nil {
			t.Fatal(err)
		}
		wrong := followIn(dir, steps)
		if name == "its own" && len(wrong) > 0 || name == "another" && (len(wrong) != 1 || !strings.HasPrefix(wrong[0], "openssl ts -verify")) {
			t.Errorf("by %s authority: %q", name, wrong)
		}
	}
}

func firstLines(text []byte, n int) []byte {
	return []byte(strings.Join(strings.SplitAfter(string(text), "\n")[:n], ""))
}

// noteStep is what the note tells to type, and what it says is printed.
type noteStep struct{ command, prints string }

// noteSteps reads the steps out of the note: lines set in by four blanks, those that
// begin with # being what is printed.
func noteSteps(t testing.TB, note string) []noteStep {
	t.Helper()
	var out []noteStep
	var s noteStep
	end := func() {
		if s.command != "" {
			out = append(out, s)
		}
		s = noteStep{}
	}
	for line := range strings.Lines(note) {
		text, ok := strings.CutPrefix(line, "    ")
		said, isSaid := strings.CutPrefix(text, "# ")
		switch {
		case ok && isSaid:
			s.prints += said
			end()
		case ok:
			s.command += text
		default:
			end()
		}
	}
	end()
	return out
}

// follow types the steps in the folder of a bag and gives those that print something
// else than the note says.
func follow(t testing.TB, p pile, steps []noteStep) []string {
	t.Helper()
	return followIn(p.folder(t), steps)
}

func followIn(dir string, steps []noteStep) []string {
	var wrong []string
	for _, s := range steps {
		c := exec.Command("sh", "-c", s.command)
		c.Dir, c.Env = dir, []string{"PATH=" + os.Getenv("PATH"), "LC_ALL=C"}
		out, _ := c.CombinedOutput() // a step tells by what it prints
		if string(out) != s.prints {
			wrong = append(wrong, s.command+"→ "+string(out))
		}
	}
	return wrong
}

// A file that belongs to a step is named by its entry as any other.
func TestBagNote_stepFile_outside(t *testing.T) {
	outside.Long(t)
	r := bagRig(t)
	content := []byte("lock and label")
	a := chain.NewAttached("lock.txt", content, "lock and label", false)
	a.Step = "energise"
	d := chain.Draft{At: r.Now, By: r.By, Kind: report.EntryAttach, Data: a, File: content}
	if _, err := r.Book.Append(rig.Ctx, r.ID, -1, d); err != nil {
		t.Fatal(err)
	}
	packed := pack(r)
	if wrong := follow(t, packed, noteSteps(t, string(packed[bag.BagNote]))); len(wrong) > 0 {
		t.Errorf("the bag is sound; %q", wrong)
	}
}
