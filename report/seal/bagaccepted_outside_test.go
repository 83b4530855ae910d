package seal

import (
	"bytes"
	"maps"
	"slices"
	"strconv"
	"strings"
	"testing"

	"handback/records/bag"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/outside"
)

// The note tells of each acceptance what shows who gave it, and ssh-keygen alone finds the
// signed one as it is, and no more once a byte of it is another.
func TestBagNote_accepted(t *testing.T) {
	outside.Long(t)
	for _, tool := range []string{"sh", "sha256sum", "sha512sum", "ssh-keygen", "diff", "sed", "grep"} {
		outside.Tool(t, tool)
	}
	r := failedRig(t)
	accepts(r, chain.AcceptanceNamespace, keyOf(t, "stranger"), nil)
	accepts(r, chain.AcceptanceNamespace, keyOf(t, "eva"), nil)
	entry := len(r.Job().Entries)
	good := pack(r)
	note := string(good[bag.BagNote])
	for _, want := range []string{"signed by a key not known, SHA256:", "signed with key SHA256:", "data/acceptances/"} {
		if !strings.Contains(strings.Join(strings.Fields(note), " "), want) {
			t.Errorf("the note does not say %q:\n%s", want, note)
		}
	}
	steps := noteSteps(t, note)
	file := bagAccepted + strconv.Itoa(entry) + ".json"
	if !slices.ContainsFunc(steps, func(s noteStep) bool {
		return strings.Contains(s.command, "-n handback-acceptance -s "+file+".sig")
	}) {
		t.Fatalf("no step checks %s:\n%s", file, note)
	}
	if wrong := follow(t, good, steps); len(wrong) > 0 {
		t.Errorf("the bag is sound; %q", wrong)
	}
	for name, c := range map[string]struct {
		change func(pile)
		step   string
	}{
		"reason":      {func(p pile) { p[file] = bytes.Replace(good[file], []byte("resistor"), []byte("resistos"), 1) }, "ssh-keygen"},
		"signature":   {func(p pile) { p[file+".sig"] = bytes.Replace(good[file+".sig"], []byte("U1NI"), []byte("U2NI"), 1) }, "ssh-keygen"},
		"of another":  {func(p pile) { p[file] = bytes.Replace(good[file], []byte(`"hash":"`), []byte(`"hash":"0`), 1) }, "sed 's/.*\"entry\":"},
		"the signers": {func(p pile) { p[bagSigners] = nil }, "ssh-keygen"},
	} {
		p := maps.Clone(good)
		c.change(p)
		wrong := follow(t, p.again(t), steps)
		if !slices.ContainsFunc(wrong, func(w string) bool { return strings.HasPrefix(w, c.step) }) {
			t.Errorf("%s: %q, want %s", name, wrong, c.step)
		}
		if x := examine(t, p.again(t).folder(t)); len(x.Faults) == 0 {
			t.Errorf("%s: no fault is found", name)
		}
	}
	// a bag from before acceptances lay in it as files is as whole as it was
	old := maps.Clone(good)
	for n := range good {
		if strings.HasPrefix(n, bagAccepted) || n == bagSigners {
			delete(old, n)
		}
	}
	if x := examine(t, old.again(t).folder(t)); len(x.Faults) > 0 {
		t.Errorf("an older bag: %q", x.Faults)
	}
}

// An acceptance that nobody signed, and one by telephone, are told as that.
func TestBagNote_unsigned(t *testing.T) {
	r := failedRig(t)
	_, data, err := r.Job().NewAcceptance("ir", "eva", "compared with a resistor")
	if err != nil {
		t.Fatal(err)
	}
	data.Telephone = &report.Telephoned{Number: "01632 960113", Called: "2026-03-02T07:30:00+01:00", Words: "one point two megohms accepted", Listened: "ben"}
	r.Put(report.EntryConcede, "ir", data)
	if note := strings.Join(strings.Fields(string(pack(r)[bag.BagNote])), " "); !strings.Contains(note, "accepted by Eva Muster; BY TELEPHONE: ") || strings.Contains(note, "ssh-keygen") {
		t.Errorf("%s", note)
	}
}
