package carrier

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/records/chain"
)

// sample is a carrier with a first entry, a note with signs of mail in it, and a file.
func sample(t testing.TB) Carrier {
	t.Helper()
	plan, file := []byte("plan: small\n"), bytes.Repeat([]byte("From here\n"), 200)
	data, err := chain.CanonicalObject(map[string]string{"nonce": "0123456789abcdef", "plan_hash": chain.HashPlan(plan)})
	if err != nil {
		t.Fatal(err)
	}
	h := chain.Head{V: chain.EntryVersion, Job: "pump-1", Seq: 1, Prev: chain.Genesis("pump-1", "0123456789abcdef"), At: time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC), By: "anna", Kind: "open"}
	first, err := chain.EncodeEntry(h, data)
	if err != nil {
		t.Fatal(err)
	}
	note, err := chain.Seal(first, chain.Draft{At: h.At, By: "anna", Kind: "note", Data: map[string]string{"text": "> From Ω\nline"}})
	if err != nil {
		t.Fatal(err)
	}
	a := chain.NewAttached("meter.txt", file, "tester", false)
	attach, err := chain.Seal(note, chain.Draft{At: h.At, By: "anna", Kind: chain.KindAttach, Data: a, File: file})
	if err != nil {
		t.Fatal(err)
	}
	return Carrier{Job: "pump-1", Identifier: first.Hash, Head: attach.Hash, Entries: []chain.Entry{first, note, attach}, Plan: plan, Files: map[string][]byte{a.SHA256: file}}
}

func encoded(t testing.TB, c Carrier) []byte {
	t.Helper()
	data, err := c.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// What was put in comes out, plain and armoured, whatever mail does to the lines.
func TestCarrier_mail(t *testing.T) {
	want := sample(t)
	plain := encoded(t, want)
	text, err := Armour(plain)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range strings.Split(string(text), "\n") {
		if len(line) > 76 {
			t.Errorf("a line of %d signs: %s", len(line), line)
		}
	}
	each := func(change func(line string) string) []byte {
		var out strings.Builder
		for line := range strings.Lines(string(text)) {
			out.WriteString(change(strings.TrimSuffix(line, "\n")))
		}
		return []byte(out.String())
	}
	for name, data := range map[string][]byte{
		"plain":        plain,
		"armoured":     text,
		"CRLF":         each(func(l string) string { return l + "\r\n" }),
		"quoted":       each(func(l string) string { return "> " + l + "\n" }),
		"quoted twice": each(func(l string) string { return ">> " + l + "\r\n" }),
		"blanks":       each(func(l string) string { return "  " + l + " \t\n" }),
		"empty lines":  each(func(l string) string { return l + "\n\n" }),
		"in a letter":  []byte("Good evening,\n\n" + string(text) + "\nregards\n-- \nAnna\n"),
		"no last line": bytes.TrimSuffix(text, []byte("\n")),
		"byte order":   append([]byte("\ufeff"), text...),
		"wrapped at 40": each(func(l string) string {
			if len(l) > 40 {
				return l[:40] + "\n" + l[40:] + "\n"
			}
			return l + "\n"
		}),
	} {
		got, err := Decode(data)
		if err != nil || !cmp.Equal(got, want) {
			t.Errorf("%s: %v\n%s", name, err, cmp.Diff(want, got))
		}
	}
}

// Any byte changed and any cut is noticed.
func TestCarrier_damage(t *testing.T) {
	plain := encoded(t, sample(t))
	text, err := Armour(plain)
	if err != nil {
		t.Fatal(err)
	}
	for i := range plain {
		spoilt := bytes.Clone(plain)
		spoilt[i] ^= 1
		if _, err := Decode(spoilt); err == nil {
			t.Errorf("byte %d changed, and nothing is said", i)
		}
		if _, err := Decode(plain[:i]); err == nil {
			t.Errorf("cut at %d, and nothing is said", i)
		}
	}
	body := len(begins) + 1
	for i := body; i < len(text)-1; i++ {
		if text[i] == '\n' {
			continue
		}
		spoilt := bytes.Clone(text)
		spoilt[i] = map[bool]byte{true: 'B', false: 'A'}[text[i] == 'A']
		if _, err := Decode(spoilt); err == nil {
			t.Errorf("sign %d of the armour changed, and nothing is said", i)
		}
	}
	if _, err := Decode(append(bytes.Clone(text), text...)); err == nil {
		t.Error("two carriers in one text were read as one")
	}
	behind := bytes.Replace(text, []byte(ends), []byte("and more\n"+ends), 1)
	if _, err := Decode(behind); err == nil || !strings.Contains(err.Error(), "behind its checksum") {
		t.Errorf("a line behind the checksum: %v", err)
	}
}

// What does not fit together is refused, although its checksum is right.
func TestCarrier_refuses(t *testing.T) {
	for name, change := range map[string]func(*Carrier){
		"other plan":         func(c *Carrier) { c.Plan = []byte("plan: other\n") },
		"no plan":            func(c *Carrier) { c.Plan = nil },
		"plan alone":         func(c *Carrier) { c.Entries = c.Entries[1:] },
		"no file":            func(c *Carrier) { c.Files = map[string][]byte{} },
		"file of no entry":   func(c *Carrier) { c.Entries = c.Entries[:2] },
		"entry of other job": func(c *Carrier) { c.Job = "pump-2" },
		"no entry":           func(c *Carrier) { c.Entries, c.Plan, c.Files = nil, nil, nil },
	} {
		c := sample(t)
		change(&c)
		if _, err := Decode(encoded(t, c)); err == nil {
			t.Errorf("%s: nothing is said", name)
		}
	}
	data := encoded(t, sample(t))
	lines := bytes.SplitAfter(data, []byte("\n"))
	newer := bytes.Replace(data, []byte(`{"carrier":1`), []byte(`{"carrier":2`), 1)
	swapped := bytes.Join([][]byte{lines[0], lines[1], lines[2], lines[3], lines[5], lines[4]}, nil)
	for name, data := range map[string][]byte{"newer": newer, "lines swapped": swapped} {
		end := bytes.LastIndexByte(data[:len(data)-1], '\n') + 1
		if name == "lines swapped" {
			end = len(data)
		}
		sum := sha256.Sum256(data[:end])
		if _, err := Decode(append(bytes.Clone(data[:end]), hex.EncodeToString(sum[:])+"\n"...)); err == nil {
			t.Errorf("%s: nothing is said", name)
		}
	}
}

// sha256sum alone agrees with the last line of a plain carrier.
func TestCarrier_sha256sum(t *testing.T) {
	tool, err := exec.LookPath("sha256sum")
	if err != nil {
		t.Skip("no sha256sum here")
	}
	data := encoded(t, sample(t))
	end := len(data) - 65
	c := exec.Command(tool)
	c.Stdin = bytes.NewReader(data[:end])
	out, err := c.Output()
	if err != nil || string(out[:64]) != string(data[end:end+64]) {
		t.Errorf("sha256sum says %s, %v; the carrier ends with %s", out, err, data[end:])
	}
}

func FuzzDecode(f *testing.F) {
	plain := encoded(f, sample(f))
	text, err := Armour(plain)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(plain)
	f.Add(text)
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := Decode(data)
		if err != nil {
			return
		}
		again, err := c.Encode()
		if err != nil {
			t.Fatal(err)
		}
		if !armoured(data) && !bytes.Equal(again, data) {
			t.Errorf("read and written again it is otherwise")
		}
	})
}
