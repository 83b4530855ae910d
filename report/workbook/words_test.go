package workbook

import (
	"bytes"
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"handback/report"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

// wordsOf are the words of a sheet, column by column, without the spaces between
// them: a long text goes on in the rows below.
func wordsOf(t testing.TB, f *excelize.File, sheet string) string {
	t.Helper()
	rows, err := f.GetRows(sheet)
	if err != nil {
		t.Fatal(err)
	}
	columns := make([]string, 64)
	for _, row := range rows {
		for i, v := range row {
			columns[i] += strings.Join(strings.Fields(v), "")
		}
	}
	whole := strings.Join(columns, "")
	if whole == "" {
		t.Fatalf("sheet %s is empty", sheet)
	}
	return whole
}

// spoken are the texts of a document that must stand on a sheet.
func spoken(d *report.Document) map[string][]string {
	out := map[string][]string{"Certificate": {d.Title, d.Site, d.Work, d.Permit, d.Job, d.PlanHash, d.Head, d.Program, report.Deferral, strconv.Itoa(d.Entries), d.Opened, d.Last}}
	add := func(sheet string, texts ...string) { out[sheet] = append(out[sheet], texts...) }
	for _, s := range d.Stops {
		add("Certificate", s.Text, s.Outcome)
	}
	for _, c := range d.Concessions {
		add("Certificate", c.Reason, c.Finding, c.Engineer)
	}
	for _, p := range d.People {
		add("Certificate", p.Name, p.Role, p.Firm)
	}
	for _, h := range d.Holds {
		add("Certificate", h.ID, h.Action, report.HoldWords(h))
		add("Flags", h.ID, h.Action)
		add("Log", h.Follows)
	}
	for _, st := range d.Steps {
		add("Log", st.Follows, st.Action, st.Taken, st.By)
	}
	for _, x := range d.Identity {
		add("Certificate", x.Text)
	}
	for _, x := range d.Flags {
		add("Flags", x.Text, x.What)
	}
	for _, n := range d.Notes {
		add("Flags", n.Text, n.By)
	}
	for _, p := range d.Plant {
		add("Flags", p[0], p[1])
	}
	for _, g := range d.Groups {
		for _, p := range g.Checks {
			add("Certificate", p.Title, p.Why)
			add(g.Name, p.ID, p.Title, p.At, p.Note, p.Follows)
			add("Method", p.Kind, p.Shows, p.How, strings.Join(p.Sources, "; "))
			add("Method", p.Cautions...)
			for _, a := range p.Attempts {
				add(g.Name, a.Repeat, a.Stop, a.By, a.When, a.Until)
				for _, x := range a.Readings {
					add(g.Name, x.Label, x.Typed, x.Word, x.Remark)
				}
				for _, x := range a.Derived {
					add(report.CutRunes(g.Name, 23)+" working", x.Working()...)
				}
				for _, x := range a.Reasons {
					add(g.Name, x.Words)
				}
			}
		}
	}
	for _, m := range d.Instruments {
		add("Instruments", m.ID, m.Name, m.Serial, m.Certificate, m.DueText, strings.Join(m.UsedIn, ", "))
		add("Instruments", m.Accuracy...)
	}
	add("Plan", strings.Split(d.PlanText, "\n")...)
	for _, l := range d.Log {
		add("Entries", l.When, l.By, l.Kind, l.Check, l.Text, l.Hash)
	}
	return out
}

func TestWorkbook_holds_every_word(t *testing.T) {
	for name, story := range map[string]func(testing.TB) *rig.Rig{"told": rig.Told, "nasty": rig.Nasty} {
		t.Run(name, func(t *testing.T) {
			r := story(t)
			d := r.Document(r.Now.Add(time.Hour))
			_, f, _ := made(t, d)
			for sheet, texts := range spoken(d) {
				whole := wordsOf(t, f, sheet)
				for _, text := range texts {
					if !strings.Contains(whole, strings.Join(strings.Fields(report.Plain(text)), "")) {
						t.Errorf("sheet %s lacks %.100q", sheet, text)
					}
				}
			}
		})
	}
}

// The stops stand on the certificate whether there are any or not.
func TestWorkbook_certificate_always_has_stops(t *testing.T) {
	_, f, _ := made(t, rig.Told(t).Document(rig.Dawn.Add(time.Hour)))
	if whole := wordsOf(t, f, "Certificate"); !strings.Contains(whole, "STOPS:findingsnobodymaypassovernone") {
		t.Error("the certificate does not say that there were no stops")
	}
	_, f, _ = made(t, rig.Nasty(t).Document(rig.Dawn.Add(time.Hour)))
	if whole := wordsOf(t, f, "Certificate"); !strings.Contains(whole, "HVvolts:HVvoltsabovetheplant'shighestvoltage") {
		t.Error("the certificate does not name the stop")
	}
}

// harmful are texts that readers take for formulas, escapes or ends of text. Each
// must come back as it went in, save that control characters show as U+FFFD.
var harmful = []string{"=1+1", "+49", "-5", "@SUM(A1)", "\t=1+1", "=cmd|' /C calc'!A0", "_x000D_", "_x005F_", "_x005F_x000D_", "_xD83D_", "_x005F_xD83D_", "_xd8ff_xDC00_", "'quoted", `"=1"`, "<b>&amp;</b>", "]]>", "0123", "1E5", "TRUE", "#REF!",
	"two\nlines", "carriage\rreturn", "bell\x07", "nul\x00", "escape\x1b[2J", "bad\xff\xfeutf", "override\u202e", "next\u0085line", "  spaces  ", "中性点", "\U0001F600"}

func TestWorkbook_text_stays_text(t *testing.T) {
	outside.Long(t)
	r := rig.Told(t)
	with := func(text string) *report.Document {
		d := r.Document(r.Now)
		d.Title, d.Site, d.Notes = text, text, []report.NoteLine{{Entry: 7, When: d.Last, By: text, Text: text}}
		d.Groups[0].Checks[0].Attempts[0].Readings[0].Typed, d.Groups[0].Checks[0].Attempts[0].Readings[0].Word = text, text
		return d
	}
	harmless, err := Make(with("plain words"))
	if err != nil {
		t.Fatal(err)
	}
	formulas := formulasOf(t, harmless)
	if len(formulas) < 100 {
		t.Errorf("%d formulas: the story has more", len(formulas))
	}
	for _, text := range harmful {
		data, f, _ := made(t, with(text))
		want := report.Plain(text)
		for cell, sheet := range map[string]string{"A3": "Certificate", "C9": "Certificate"} {
			got, err := f.GetCellValue(sheet, cell)
			if err != nil {
				t.Fatal(err)
			}
			kind, err := f.GetCellType(sheet, cell)
			if err != nil {
				t.Fatal(err)
			}
			if got != want || kind != excelize.CellTypeInlineString && kind != excelize.CellTypeSharedString {
				t.Errorf("%q: %s %s holds %q (type %d), want %q as text", text, sheet, cell, got, kind, want)
			}
		}
		if got := formulasOf(t, data); !slices.Equal(apartFromTexts(got), apartFromTexts(formulas)) {
			t.Errorf("%q changed the formulas", text)
		}
	}
}

var textsInFormula = regexp.MustCompile(`("([^"]|"")*"|CHAR\(10\))(&("([^"]|"")*"|CHAR\(10\)))*`)

// apartFromTexts are formulas with a sign in place of every text in them.
func apartFromTexts(formulas []string) (out []string) {
	for _, f := range formulas {
		out = append(out, textsInFormula.ReplaceAllString(html.UnescapeString(f), "TEXT"))
	}
	return out
}

// formulasOf lists the formulas of all sheets in order.
func formulasOf(t testing.TB, data []byte) []string {
	t.Helper()
	var out []string
	for name, part := range rig.Parts(t, data) {
		if strings.HasPrefix(name, "xl/worksheets/") {
			for _, f := range bytes.Split(part, []byte("<f>"))[1:] {
				text, _, _ := bytes.Cut(f, []byte("</f>"))
				out = append(out, name+" "+string(text))
			}
		}
	}
	slices.Sort(out)
	return out
}

func TestWorkbook_carries_on_what_a_cell_would_cut(t *testing.T) {
	d := rig.Told(t).Document(rig.Dawn)
	d.Notes = []report.NoteLine{{Entry: 7, Text: strings.Repeat("word ", 20000)}}
	_, f, _ := made(t, d)
	if !strings.Contains(wordsOf(t, f, "Flags"), strings.Repeat("word", 20000)) {
		t.Error("a text longer than a cell was not carried on below")
	}
}
