package trust

import (
	"strings"
	"testing"
)

// What a policy asks is read whole or not at all.
func TestParseFile(t *testing.T) {
	const good = `require: [engineer]
allowed_signers: office
revoked: [{key: "SHA256:kQXZBNvrdQTgmHBZd9htpS7PemqbrzoMBs5gnaFpjvQ", from: 2026-05-01T00:00:00Z, why: lost}]
clock_ahead: 10m
must: [head, stamp]
known: [{job: pump-1, entries: 12}]
`
	f, err := ParseFile([]byte(good))
	if err != nil {
		t.Fatal(err)
	}
	p, err := f.Policy()
	if err != nil || p.Require[0] != "engineer" || p.Revoked[0].From.Year() != 2026 || p.Ahead.Minutes() != 10 || p.Known[0].Entries != 12 || !p.asks() {
		t.Errorf("%+v %v", p, err)
	}
	for change, want := range map[string]string{
		"require:=requires:":                    "field requires not found",
		"[engineer]=[engineer, judge]":          `require: "judge" is not one of`,
		"[engineer]=[engineer, engineer]":       "engineer stands twice",
		"allowed_signers: office\n=":            "name the file of keys that you trust",
		"SHA256:kQ=SHA256:":                     "revoked[0]: key",
		"from: 2026-05-01T00:00:00Z=from: soon": "cannot",
		"10m=soon":                              `clock_ahead: "soon"`,
		"[head, stamp]=[luck]":                  `must: "luck" is not one of`,
		"job: pump-1, =":                        "known[0]: say of which job",
		", entries: 12=":                        "known[0]: tell head, entries or both",
		"entries: 12=head: 12ab":                "64 lower-case hex digits",
		"clock_ahead=---\nclock_ahead":          "one document",
	} {
		from, to, _ := strings.Cut(change, "=")
		if !strings.Contains(good, from) {
			t.Fatalf("%q changes nothing", change)
		}
		if _, err := ParseFile([]byte(strings.Replace(good, from, to, 1))); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", change, err, want)
		}
	}
	if _, err := ParseFile(nil); err == nil || !strings.Contains(err.Error(), "it asks for nothing") {
		t.Errorf("an empty file: %v", err)
	}
}
