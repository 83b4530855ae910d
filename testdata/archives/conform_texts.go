package archives

import (
	"slices"
	"strings"
	"testing"

	"handback/records/archive"
)

// texts keeps what no engine may choke on: signs that some refuse, texts longer than some
// put into an index, in rows and in reasons. What is asked with them is answered.
func texts(t *testing.T, a *archive.Archive) {
	f := Fake{1, "abc"}
	long := strings.Repeat("Ωx7", 2000)
	odd := "before\x00after \xff end"
	x, err := f.Taking(a)
	if err != nil {
		t.Fatal(err)
	}
	x.Rows.States[0].Site, x.Rows.States[0].Title = long, odd
	x.Rows.Searched[0].Site = archive.Plainly(long)
	x.Rows.Plants[0].Serial = long + "1"
	x.Rows.Readings[0].Serial, x.Rows.Readings[0].Typed = odd, long
	x.Rows.Instruments = []archive.Instrument{{Of: x.Rows.States[0].Of, Serial: long, Plain: strings.ToLower(long), Meter: odd, Uses: 1}}
	x.Rows.Texts[0].Said, x.Rows.Texts[0].Plain = odd+long, archive.Plainly(odd+long)
	bad, err := Fake{2, "ab"}.Taking(a)
	if err != nil {
		t.Fatal(err)
	}
	bad.Rows, bad.Reasons, bad.Job, bad.ID = nil, []string{odd, long}, odd, odd
	became, err := a.Take(ctx, now, x, bad)
	if err != nil || !slices.Equal(became, []string{archive.New, archive.Barred}) {
		t.Fatalf("%v: %v", became, err)
	}
	rows, err := a.RowsOf(ctx, f.Job(), f.Head())
	if err != nil {
		t.Fatal(err)
	}
	if tables := rows.Differ(x.Rows); len(tables) > 0 {
		t.Errorf("it holds other rows of %v", tables)
	}
	if s := rows.States[0]; s.Site != long || s.Title != "before\uFFFDafter \uFFFD end" || rows.Readings[0].Typed != long {
		t.Errorf("texts came back as %.60q, %q, %.60q", s.Site, s.Title, rows.Readings[0].Typed)
	}
	if serial := rows.Plants[0].Serial; len(serial) > 500 || !strings.HasPrefix(long, strings.TrimSuffix(serial, "\u2026")) {
		t.Errorf("a serial number came back as %q", serial)
	}
	asked(t, a, odd, long)
	for r, err := range a.Quarantine(ctx, odd) {
		if err != nil || r.Reasons != "before\uFFFDafter \uFFFD end\n"+long {
			t.Errorf("refused for %.60q: %v", r.Reasons, err)
		}
	}
}

// asked asks for texts as they were typed: those that were cut are found, and none is an
// error.
func asked(t *testing.T, a *archive.Archive, odd, long string) {
	for _, q := range []archive.Query{{Serial: long + "1"}, {Instrument: long}, {Site: long}, {Text: odd}, {Text: long}} {
		n := 0
		for range a.Find(ctx, q) {
			n++
		}
		if n != 1 {
			t.Errorf("%.60v finds %d states", q, n)
		}
	}
	for _, q := range []archive.Query{{Plant: odd}, {Asset: odd}, {Firm: odd}, {From: odd}, {To: odd}, {Kind: odd}, {Kind: odd, Verdict: odd}, {Verdict: odd}, {Person: odd}} {
		for _, err := range a.Find(ctx, q) {
			if err != nil {
				t.Errorf("%+v: %v", q, err)
			}
		}
	}
	if used, err := a.UsedIn(ctx, strings.ToLower(long), "", ""); err != nil || len(used) != 1 {
		t.Errorf("the instrument was used in %d states: %v", len(used), err)
	}
	if values, err := a.Values(ctx, archive.Course{Plant: long + "1", Check: odd, Key: odd, Site: odd}); err != nil || len(values) > 0 {
		t.Errorf("%d values: %v", len(values), err)
	}
}
