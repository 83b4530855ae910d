package page

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"handback/report"
	"handback/report/certificate"
	"handback/testdata/rig"
)

func TestText_golden(t *testing.T) {
	r := rig.Told(t)
	got, err := Text(r.Document(r.Now.Add(time.Hour)))
	if err != nil {
		t.Fatal(err)
	}
	rig.Golden(t, "told.txt", got)
}

// Whatever people write, the text has no line above 80 signs, no control character,
// and every word of it.
func TestText_holds_its_width(t *testing.T) {
	r := rig.Nasty(t)
	d := r.Document(r.Now.Add(time.Hour))
	got, err := Text(d)
	if err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(got, "\n") {
		if n := utf8.RuneCountInString(line); n > 80 {
			t.Errorf("line %d has %d signs: %q", i+1, n, line)
		}
		if strings.ContainsFunc(line, func(r rune) bool { return r < ' ' || r == 0x7f || r == 0x1b }) {
			t.Errorf("line %d holds a control character: %q", i+1, line)
		}
	}
	whole := strings.Join(strings.Fields(got), "")
	lines := certificate.Lines(d)
	for i, p := range d.Pages() {
		why := p.Why
		if l := lines[i]; p.State == "pass" { // then what decided it
			why = l.Decided + l.Value
		}
		if n := len(p.Attempts); n > 0 && !strings.Contains(whole, strings.Join(strings.Fields("by "+report.Plain(p.Attempts[n-1].By)), "")) {
			t.Errorf("check %s: who did it is not in the text", p.ID)
		}
		for _, part := range []string{p.ID, strings.ToUpper(p.Verdict.String()), p.Title, why} {
			if !strings.Contains(whole, strings.Join(strings.Fields(report.Plain(part)), "")) {
				t.Errorf("check %s: %q is not in the text", p.ID, part)
			}
		}
	}
	for _, part := range []string{d.Head, strings.Join(strings.Fields(report.Deferral), ""), "STOP"} {
		if !strings.Contains(whole, part) {
			t.Errorf("%q is not in the text", part)
		}
	}
}
