package records

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"handback/records/chain"
)

func TestEntry_body(t *testing.T) {
	b := makeBook(t)
	first := makeJob(t, b, 0)
	es, err := b.Append(ctx, first.Job, -1, chain.Draft{At: dawn, By: "Ada Example", Kind: "note", Data: map[string]any{"z": "€<&>", "a": []any{1.5, true, nil}}})
	if err != nil {
		t.Fatal(err)
	}
	want := `{"at":"2026-03-01T06:30:00.25+05:30","by":"Ada Example","data":{"a":[1.5,true,null],"z":"€<&>"},` +
		`"job":"pump-1","kind":"note","prev":"` + first.Hash + `","seq":2,"v":1}`
	same(t, want, string(es[0].Body))
	sum := sha256.Sum256([]byte("handback entry v1\n" + want))
	same(t, hex.EncodeToString(sum[:]), es[0].Hash)
	same(t, chain.Genesis("pump-1", testNonce), first.Prev)
}

func TestDraft_refused(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 0).Job
	good := measured(1)
	cases := map[string]struct {
		change func(*chain.Draft)
		want   string
	}{
		"no time":           {func(d *chain.Draft) { d.At = time.Time{} }, "no time"},
		"offset of seconds": {func(d *chain.Draft) { d.At = d.At.In(time.FixedZone("", 61)) }, "whole minutes"},
		"year 10000":        {func(d *chain.Draft) { d.At = time.Date(10000, 1, 1, 0, 0, 0, 0, time.UTC) }, "RFC 3339"},
		"nobody":            {func(d *chain.Draft) { d.By = "" }, "by is empty"},
		"no kind":           {func(d *chain.Draft) { d.Kind = "" }, "kind is empty"},
		"newline in by":     {func(d *chain.Draft) { d.By = "Ada\nBob" }, "U+000A"},
		"escape in check":   {func(d *chain.Draft) { d.Check = "a\x1b[2J" }, "U+001B"},
		"C1 in kind":        {func(d *chain.Draft) { d.Kind = "a\u0085" }, "U+0085"},
		"line separator":    {func(d *chain.Draft) { d.By = "a\u2028b" }, "U+2028"},
		"bad UTF-8 in by":   {func(d *chain.Draft) { d.By = "a\xff" }, "UTF-8"},
		"no data":           {func(d *chain.Draft) { d.Data = nil }, "object is wanted"},
		"a list":            {func(d *chain.Draft) { d.Data = []int{1} }, "object is wanted"},
		"NaN":               {func(d *chain.Draft) { d.Data = map[string]any{"r": math.NaN()} }, "NaN"},
		"bad UTF-8 in data": {func(d *chain.Draft) { d.Data = map[string]any{"n": "a\xffb"} }, "UTF-8"},
		"bad UTF-8 raw":     {func(d *chain.Draft) { d.Data = json.RawMessage("{\"n\":\"\xff\"}") }, "UTF-8"},
		"key twice":         {func(d *chain.Draft) { d.Data = json.RawMessage(`{"n":1,"n":2}`) }, "Duplicate"},
		"lone surrogate":    {func(d *chain.Draft) { d.Data = json.RawMessage(`{"n":"\ud800"}`) }, "surrogate"},
		"trailing zero":     {func(d *chain.Draft) { d.Data = json.RawMessage(`{"n":[0.10]}`) }, "as text"},
		"large integer":     {func(d *chain.Draft) { d.Data = map[string]any{"n": 9007199254740993} }, "as text"},
		"too large":         {func(d *chain.Draft) { d.Data = map[string]any{"n": strings.Repeat("x", chain.MaxBody)} }, "at most"},
		"no JSON":           {func(d *chain.Draft) { d.Data = map[string]any{"n": func() {}} }, "unsupported"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			d := good
			c.change(&d)
			if _, err := b.Append(ctx, job, -1, good, d); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got error %v, want one with %q", err, c.want)
			}
		})
	}
	es, err := b.Entries(ctx, job)
	if err != nil || len(es) != 1 {
		t.Errorf("%d entries after refused ones (%v), want the first alone", len(es), err)
	}
	minusZero := good
	minusZero.Data = map[string]any{"n": math.Copysign(0, -1), "u": "true \ufffd", "tiny": 1e-7, "big": 1e21, "int": 1 << 53}
	if _, err := b.Append(ctx, job, -1, minusZero); err != nil {
		t.Errorf("-0, U+FFFD itself and doubles of every size are fine: %v", err)
	}
	verified(t, b)
}

func TestClockFaults(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 1).Job
	back := measured(0)
	back.At = dawn.Add(-3 * time.Minute).UTC()
	if _, err := b.Append(ctx, job, -1, back, measured(0), measured(0)); err != nil {
		t.Fatal(err)
	}
	es, err := b.Entries(ctx, job)
	if err != nil {
		t.Fatal(err)
	}
	faults := chain.ClockFaults(es)
	if len(faults) != 1 || faults[0].Seq != 3 || !strings.Contains(faults[0].What, "3m0s before that of entry 2") {
		t.Errorf("got %v, want one warning for entry 3, three minutes", faults)
	}
	verified(t, b) // and it is no fault of the chain
}
