package page

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/quantity"
	"handback/report"
	"handback/templates"
	"handback/testdata/rig"
)

// inStep are volts across an open device half a degree apart, of the case file of
// its kind.
var inStep = rig.Typed{"meter": "dmm", "a_l1l2": "420.0", "a_l2l3": "420.1", "a_l3l1": "419.9", "x11": "2.3", "x12": "419.7", "x13": "421.4",
	"x21": "421.8", "x22": "2.3", "x23": "419.5", "x31": "419.6", "x32": "421.9", "x33": "2.2"}

// anHour is the same with side B one clock hour ahead: 2·242.5·sin 15°, sin 45° and sin 75°.
var anHour = rig.Typed{"meter": "dmm", "a_l1l2": "420.0", "a_l2l3": "420.0", "a_l3l1": "420.0", "x11": "125.5", "x12": "342.9", "x13": "468.5",
	"x21": "468.5", "x22": "125.5", "x23": "342.9", "x31": "342.9", "x32": "468.5", "x33": "125.5"}

// onBar is a job with every picture there is; warmer raises its temperatures.
func onBar(t testing.TB, across rig.Typed, warmer string) *rig.Rig {
	r := rig.New(t, "bar.yaml")
	r.Take("across", across)
	r.Take("balance", rig.Typed{"meter": "dmm", "a_l1l2": "420.0", "a_l2l3": "420.1", "a_l3l1": "419.9", "a_l1n": "242.5", "a_l2n": "242.5", "a_l3n": "242.5",
		"b_l1l2": "421.0", "b_l2l3": "421.2", "b_l3l1": "421.1", "b_l1n": "243.1", "b_l2n": "243.2", "b_l3n": "243.1"})
	soak := rig.Typed{"meter": "th"}
	for k, temp := range []string{"21.2", "38.4", "49.6", "57.1", "62.0", "65.2", "67.4"} {
		row := fmt.Sprintf("t%d_", k+1)
		soak[row+"at"], soak[row+"temp"], soak[row+"load"], soak[row+"amb"] = fmt.Sprintf("%02d:%02d", 8+k/2, 30*(k%2)), warmer+temp, "640", "20.2"
	}
	r.Take("soak", soak)
	return r
}

// hostile is a job whose words try to be more than words.
func hostile(t testing.TB) *rig.Rig {
	data := rig.PlanText(t, "pump.yaml")
	data = []byte(strings.NewReplacer(
		"Transformer T1 back to service after tap change", `'<script>alert(1)</script> " onload="alert(2) {{"{{"}} .Doc }}'`,
		"Example Pumping Station, switchroom 1", `'</title></style><img src=x onerror=alert(3)> &amp; &lt;'`,
		"insulation at 1 kV d.c.", `']]> <![CDATA[ --> <!-- "quoted" <b>'`,
		"Use fused probes.", `'javascript:alert(4) url(x) expression(5)'`,
	).Replace(string(data)))
	r := rig.Of(t, "hostile.yaml", data)
	r.Take("ir", rig.Insulated)
	r.Put(report.EntryNote, "ir", report.Noted{Text: "escape \x1b[31mred\x1b[0m, bell \x07, null \x00, override \u202e, line\nbreak\r\n, \ufffe, <svg onload=alert(6)>"})
	return r
}

// stories are documents of jobs that many tests only look at, told once.
func stories(t testing.TB) map[string]*report.Document {
	if toldStories == nil {
		toldStories = tellStories(t)
	}
	return toldStories
}

var toldStories map[string]*report.Document

func tellStories(t testing.TB) map[string]*report.Document {
	out := map[string]*report.Document{}
	for name, r := range map[string]*rig.Rig{"told": rig.Told(t), "nasty": rig.Nasty(t), "hostile": hostile(t), "on the bar": onBar(t, inStep, ""), "an hour apart": onBar(t, anHour, "1")} {
		out[name] = r.Document(r.Now.Add(time.Hour))
	}
	out["told"].Signatures = []report.SignatureLine{{Words: "signed by Ada Example <invented>", Key: "SHA256:invented"}, {Words: "signed by Eva Muster", Doubt: "it fits other bytes"}}
	before := onBar(t, inStep, "")
	after := onBar(t, inStep, "")
	j := before.Job()
	j.OpenedAt = j.OpenedAt.AddDate(-1, 0, 0)
	d, err := report.NewDocument(after.Job(), after.Now, j)
	if err != nil {
		t.Fatal(err)
	}
	out["a year on"] = d
	return out
}

// sayings are all words of a document that a reader must find.
func sayings(d *report.Document) []string {
	out := []string{d.Job, d.Title, d.Site, d.Work, d.Opened, d.Last, d.Head, d.PlanHash, d.Program, d.PlanID, d.PlanFile, d.Rule, report.Deferral, report.OverallWords(d.Overall), report.OrNone(d.Permit)}
	for _, s := range d.Stops {
		out = append(out, s.Check, s.Title+": "+s.Text, s.Outcome)
	}
	for _, h := range d.Holds {
		out = append(out, h.ID, h.Action, report.HoldWords(h))
		for _, g := range h.Open {
			out = append(out, g.Check+", "+g.Title, g.Words())
		}
	}
	for _, c := range d.Concessions {
		out = append(out, c.Check, c.Title, c.Finding, c.Engineer, c.When, c.Reason)
	}
	for _, f := range d.Flags {
		out = append(out, report.FlagPlace(f), f.What, f.Text)
	}
	for _, p := range d.People {
		out = append(out, p.Name, p.Role, p.Firm)
	}
	for _, g := range d.Signatures {
		out = append(out, g.Words, g.Key, g.Doubt)
	}
	for _, p := range d.Plant {
		out = append(out, p[0], p[1])
	}
	for _, m := range d.Instruments {
		out = append(out, m.ID, m.Name, m.Serial, m.Certificate, m.DueText, m.Category, m.InDate)
		out = append(append(out, m.Accuracy...), m.UsedIn...)
	}
	for _, x := range d.Identity {
		out = append(out, x.Text)
	}
	for _, n := range d.Notes {
		out = append(out, n.Text, n.By, n.When)
	}
	for _, l := range d.Log {
		out = append(out, l.Text, l.Hash, l.When, l.Kind)
	}
	return append(out, d.Cautions...)
}

// sayingsOf are the words of one check that its test sheet says, and those that it leaves to
// the annexes.
func sayingsOf(p report.CheckPage) (sheet, annex []string) {
	sheet = []string{p.ID, p.Title, p.At, p.Note, p.Follows, p.Kind, p.Verdict.String(), report.OnlyIfMore(p.State, p.Verdict.String())}
	annex = append(append([]string{p.Shows, p.How}, p.Cautions...), p.Sources...)
	for _, a := range p.Attempts {
		if len(p.Attempts) > 1 {
			sheet = append(sheet, fmt.Sprintf("Attempt %d of %d", a.Number, len(p.Attempts)))
		}
		sheet = append(append(sheet, a.By, a.When, a.Repeat, a.Stop, a.Rule, a.Until), a.Cautions...)
		for _, r := range a.Readings {
			sheet = append(sheet, r.Label, clock(r.Word, a.When), r.Meter, r.Happened)
			if r.Number {
				sheet = append(sheet, r.Typed)
			} else {
				annex = append(annex, r.Typed)
			}
		}
		for _, x := range a.Derived {
			annex = append(annex, x.Working()...)
			sheet = append(sheet, x.LimitText())
			if quantity.Finite(x.Value) {
				sheet = append(sheet, x.Text())
			}
		}
		for _, r := range a.Reasons {
			annex = append(annex, r.Words)
			if r.Verdict != checks.Pass {
				sheet = append(sheet, r.Words)
			}
		}
	}
	return sheet, annex
}

func TestPage_says_all_the_document_says(t *testing.T) {
	for name, d := range stories(t) {
		t.Run(name, func(t *testing.T) {
			root := pageOf(t, d)
			whole, said := root.text(), 0
			look := func(where, text string, words []string) {
				for _, s := range words {
					said++
					if !strings.Contains(text, report.Flat(s)) {
						t.Errorf("%s: not on the page: %.200q", where, s)
					}
				}
			}
			look("job", whole, sayings(d))
			articles := root.all("article")
			pages := d.Pages()
			if len(articles) != len(pages) {
				t.Fatalf("%d checks on the page, %d in the document", len(articles), len(pages))
			}
			for i, p := range pages {
				sheet, annex := sayingsOf(p)
				look("check "+p.ID, articles[i].text(), sheet)
				look("annexes for "+p.ID, whole, annex)
			}
			if said < 80 {
				t.Errorf("%d sayings looked for: a job has more", said)
			}
		})
	}
}

// What is signed comes first, what is looked up last: certificate, test sheets, log,
// annexes, and in these the cautions last.
func TestPage_order(t *testing.T) {
	var order []string
	pageOf(t, stories(t)["told"]).each(func(n *node, above []*node) {
		switch {
		case n.Name == "section" && n.Attrs["id"] != "":
			order = append(order, n.Attrs["id"])
		case n.Name == "summary":
			order = append(order, n.text())
		case n.Name == "details" && n.Attrs["open"] != "":
			t.Error("an annex is open")
		}
	})
	want := []string{"certificate", "reading", "group-1", "group-2", "log", "annexes", "Method, kind by kind (not printed)",
		"Workings: every reason and how values were worked out (not printed)", "Nameplate data that predictions rest on (not printed)", "Instruments, ranges and accuracy (not printed)", "Entries (not printed)", "Cautions (not printed)"}
	if diff := cmp.Diff(want, order); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

// What did not pass stands first in a check's table, a repeat below what it repeats, and a
// value that is a reading as it was taken in the reading's row.
func TestPage_points(t *testing.T) {
	judged := func(key, name string, v checks.Verdict, e *calc.Expr, x float64) checks.Derived {
		return checks.Derived{Key: key, Name: name, Value: x, Unit: "V", Expr: e, Limit: checks.AtMost(50, "plan"), Verdict: v}
	}
	read := func(key string, x float64) report.AnswerLine {
		return report.AnswerLine{Key: key, Label: "reading " + key, Typed: quantity.Short(x), Value: x, Number: true, Unit: "V"}
	}
	a, b := calc.Reading("a", "a", "V"), calc.Reading("b", "b", "V")
	p := report.CheckPage{ID: "x", Verdict: checks.Pass, Attempts: []report.AttemptPage{
		{Number: 1, Judged: true, Verdict: checks.Fail, Readings: []report.AnswerLine{read("a", 3), read("b", 60)},
			Derived: []checks.Derived{judged("a", "volts a", checks.Pass, a, 3), judged("b", "volts b", checks.Fail, calc.Abs(b), 60), judged("d", "difference", checks.Fail, b.Sub(a), 57)}},
		{Number: 2, Judged: true, Verdict: checks.Pass, Readings: []report.AnswerLine{read("b", 4)},
			Derived: []checks.Derived{judged("b", "volts b", checks.Pass, calc.Abs(b), 4), {Key: "m", Name: "mean", Value: 4, Unit: "V"}}}}}
	c := newPageCheck(p, 1)
	var rows []string
	for _, r := range c.Points.Rows {
		rows = append(rows, fmt.Sprint(r.Cells[0].Text, " ", r.Cells[1].Text, " ", r.Cells[2].Text, " ", r.Cells[5].Mark))
	}
	want := []string{"reading b 1 60 V fail", "reading b 2 4 V pass", "difference 1 57 V fail", "reading a 1 3 V pass"}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if shown := c.Sheets[1].Shown; len(shown) != 1 || shown[0].Label != "mean" || len(c.Sheets[0].Read) != 0 {
		t.Errorf("beside the table: %v, %v", c.Sheets[0].Read, shown)
	}
}

// Readings, expectations and values stand as numbers in their units: told by hand
// from what the stories type.
func TestPage_shows_numbers_in_their_units(t *testing.T) {
	all := stories(t)
	for _, c := range []struct{ story, want string }{
		{"told", "1200 MΩ (typed 1.2 GΩ)"}, // in the unit of its field
		{"told", "neutral to earth volts 0.800 ± 0.034 V at most 5 V (plan) 16 % pass read 0.8 V"},
		{"told", "NOT READY: 1 check and 1 hold point open"},
		{"on the bar", "T1 L1-L2 420.0 V expected 360.0 to 440.0 V (nominal volts)"},
		{"on the bar", "L1 242.4 V 0.01° 243.3 V 0.51° 2.29 V"},                                                                     // 420/√3, half a degree ahead, 2.3 V read across
		{"an hour apart", "125.50 ± 0.93 V at most 20 V (5 % of nominal, about 5° apart) 628 % fail chance that it is out 100.0 %"}, // 125.5/20; U = 0.5 %·125.5 + 0.3 = 0.9275 V
		{"an hour apart", "STOP T2 is displaced from T1 by 30.0°"},
		{"on the bar", "limit 120.2 °C: 100 K over the ambient of the last quarter (IEC 60076-11, class F)"},
	} {
		if text := pageOf(t, all[c.story]).text(); !strings.Contains(text, c.want) {
			t.Errorf("%s: not on the page: %q", c.story, c.want)
		}
	}
}

// The cover leaves long lists of flags to the list, and says so.
func TestPage_cover_counts_the_flags_it_leaves_out(t *testing.T) {
	told := *stories(t)["told"]
	d := &told
	d.Flags = nil
	for i := range 12 {
		d.Flags = append(d.Flags, report.Flag{Seq: i + 1, What: report.FlagClock, Text: fmt.Sprintf("flag %d!", i+1), Open: true})
	}
	root := pageOf(t, d)
	cover := root.all("section")[0].text()
	if !strings.Contains(cover, "flag 10!") || strings.Contains(cover, "flag 11!") || !strings.Contains(cover, "and 2 more: all stand in the") {
		t.Errorf("the cover: %.400s", cover)
	}
}

// A balance that names the check of the volts across is drawn at the angle read, each
// side about its own centroid.
func TestDocument_balance_is_drawn_by_the_volts_across(t *testing.T) {
	for _, p := range stories(t)["on the bar"].Pages() {
		if p.ID != "balance" {
			continue
		}
		d := p.Attempts[0].Diagram
		sides := sidesOf(d)
		if len(sides) != 2 || !strings.Contains(d.How, "check across") {
			t.Fatalf("diagram %+v", d)
		}
		for _, s := range sides {
			if off := tipOf(s.phasors[0]) + tipOf(s.phasors[1]) + tipOf(s.phasors[2]); cmplx.Abs(off) > 1e-6 {
				t.Errorf("%s stands %v V off its centroid", s.name, off)
			}
		}
		if turn := degrees(tipOf(sides[1].phasors[0]) / tipOf(sides[0].phasors[0])); math.Abs(turn-0.5) > 0.1 {
			t.Errorf("T2 leads by %v°, want 0.5°", turn)
		}
		return
	}
	t.Fatal("no balance")
}

// Words that try to be markup stay words, to be read as they were written.
func TestPage_keeps_words_for_words(t *testing.T) {
	text := pageOf(t, stories(t)["hostile"]).text()
	for _, want := range []string{`<script>alert(1)</script> " onload="alert(2)`, `</title></style><img src=x onerror=alert(3)> &amp; &lt;`, `]]> <![CDATA[ --> <!-- "quoted" <b>`,
		"escape \ufffd[31mred", "override \ufffd", "<svg onload=alert(6)>"} {
		if !strings.Contains(text, want) {
			t.Errorf("not on the page as written: %q", want)
		}
	}
}

func TestPage_pictures_stand_where_they_belong(t *testing.T) {
	of := func(story string) []string {
		var out []string
		for _, s := range pageOf(t, stories(t)[story]).all("svg") {
			if s.Attrs["role"] == "img" {
				out = append(out, s.Kids[0].text())
			}
		}
		return out
	}
	want := []string{"Phasors, check across, attempt 1", "Phasors, check balance, attempt 1", "Course, check soak, attempt 1"}
	if diff := cmp.Diff(want, of("on the bar")); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if got := of("a year on"); len(got) < len(want)+10 || !slices.Contains(got, "Trend of volts across the incomer of T2, pole L1") {
		t.Errorf("with an earlier job: %q", got)
	}
}

// Every label that the page hands to its templates is one that a language can know: it
// stands among their words. What names a side of a picture or an earlier job is none.
func TestPage_labels_are_known(t *testing.T) {
	fixed, err := templates.FixedWords()
	if err != nil {
		t.Fatal(err)
	}
	handed, earlier := 0, regexp.MustCompile(`^\S+ \d{4}-\d\d-\d\d$`)
	for name, d := range stories(t) {
		known := func(label string) string {
			handed++
			if !slices.Contains(fixed, label) && !strings.HasSuffix(label, ", volts") && !strings.HasSuffix(label, ", angle") && !earlier.MatchString(label) {
				t.Errorf("%s: the label %q stands in no template", name, label)
			}
			return label
		}
		if err := templates.Page(io.Discard, "page", newPage(d), known); err != nil {
			t.Fatal(err)
		}
	}
	if handed < 500 {
		t.Errorf("%d labels: there are more", handed)
	}
}

// Equal documents give equal bytes.
func TestPage_same_bytes(t *testing.T) {
	first, again := stories(t), tellStories(t)
	for name := range first {
		a, errA := Make(first[name])
		b, errB := Make(again[name])
		if errA != nil || errB != nil || !bytes.Equal(a, b) {
			t.Errorf("%s: pages of equal documents differ (%v, %v)", name, errA, errB)
		}
	}
}

func BenchmarkPage(b *testing.B) {
	for name, d := range map[string]*report.Document{"told": rig.Told(b).Document(rig.Dawn.Add(time.Hour)), "bar": onBar(b, inStep, "").Document(rig.Dawn.Add(time.Hour))} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Make(d); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// No chance is printed finer than it is known.
func TestChanceWords(t *testing.T) {
	for p, want := range map[float64]string{math.NaN(): "", 0: "", 0.000999: "", 0.001: "chance that it is out 0.1 %", 0.1791: "chance that it is out 17.9 %", 1: "chance that it is out 100.0 %"} {
		if got := chanceWords(checks.Derived{ChanceOut: p}); got != want {
			t.Errorf("%v prints %q, want %q", p, got, want)
		}
	}
}
