package chain

import (
	"encoding/json"
	"strings"
	"testing"
	"time"
)

type strictInner struct {
	Volts float64 `json:"volts"`
	Note  string  `json:"note,omitempty"`
}

type StrictBase struct {
	ROhm float64 `json:"r_ohm"`
}

type strictOuter struct {
	StrictBase
	Points []strictInner          `json:"points"`
	Phases [3]float64             `json:"phases"`
	ByName map[string]strictInner `json:"by_name,omitempty"`
	Ptr    *strictInner           `json:"ptr,omitempty"`
	At     time.Time              `json:"at,omitzero"`
	Raw    json.RawMessage        `json:"raw,omitempty"`
	Free   any                    `json:"free,omitempty"`
	Hidden int                    `json:"-"`
	Plain  bool
	secret int
}

func TestDecodeStrict(t *testing.T) {
	full := `{"r_ohm":1,"points":[{"volts":2}],"phases":[1,2,3],"Plain":true}`
	with := func(old, new string) string { return strings.Replace(full, old, new, 1) }
	var got strictOuter
	if err := DecodeStrict([]byte(" "+full+"\n"), &got); err != nil {
		t.Fatal(err)
	}
	same(t, true, got.Plain && got.ROhm == 1 && got.Points[0].Volts == 2 && got.Phases == [3]float64{1, 2, 3} && got.secret == 0)

	cases := map[string]struct{ in, want string }{
		"empty":                    {``, "no data"},
		"empty object":             {`{}`, "r_ohm: missing"},
		"other case":               {with(`"r_ohm"`, `"R_OHM"`), "R_OHM: unknown"},
		"folded letter":            {with(`"points"`, `"pointſ"`), "unknown"},
		"twice":                    {with(`"r_ohm":1`, `"r_ohm":1,"r_ohm":2`), "Duplicate"},
		"twice by escape":          {with(`"r_ohm":1`, `"r_ohm":1,"r_\u006fhm":2`), "Duplicate"},
		"twice inside":             {with(`{"volts":2}`, `{"volts":2,"volts":3}`), "Duplicate"},
		"null":                     {with(`"r_ohm":1`, `"r_ohm":null`), "r_ohm: null"},
		"null in list":             {with(`{"volts":2}`, `null`), "points[0]: null"},
		"null list":                {with(`[{"volts":2}]`, `null`), "points: null"},
		"null though optional":     {with(`"Plain"`, `"ptr":null,"Plain"`), "ptr: null"},
		"null free":                {with(`"Plain"`, `"free":null,"Plain"`), "free: null"},
		"null time":                {with(`"Plain"`, `"at":null,"Plain"`), "at: null"},
		"missing inside":           {with(`{"volts":2}`, `{"note":"x"}`), "points[0].volts: missing"},
		"missing in map":           {with(`"Plain"`, `"by_name":{"L1":{}},"Plain"`), "by_name.L1.volts: missing"},
		"missing behind pointer":   {with(`"Plain"`, `"ptr":{},"Plain"`), "ptr.volts: missing"},
		"unknown":                  {with(`"Plain"`, `"x":1,"Plain"`), "x: unknown"},
		"hidden":                   {with(`"Plain"`, `"Hidden":1,"Plain"`), "Hidden: unknown"},
		"unexported":               {with(`"Plain"`, `"secret":1,"Plain"`), "secret: unknown"},
		"short array":              {with(`[1,2,3]`, `[1,2]`), "phases: 2 values"},
		"long array":               {with(`[1,2,3]`, `[1,2,3,4]`), "phases: 4 values"},
		"text for number":          {with(`"r_ohm":1`, `"r_ohm":"1"`), "cannot unmarshal"},
		"list for object":          {`[]`, "cannot unmarshal"},
		"null alone":               {`null`, "null"},
		"trailing":                 {full + `{}`, "mproperly"},
		"bad UTF-8":                {with(`{"volts":2}`, "{\"volts\":2,\"note\":\"\xff\"}"), "UTF-8"},
		"lone surrogate":           {with(`{"volts":2}`, `{"volts":2,"note":"\ud800"}`), "surrogate"},
		"number out of range":      {with(`"r_ohm":1`, `"r_ohm":1e999`), "range"},
		"twice in what is free":    {with(`"Plain"`, `"raw":{"a":1,"a":2},"Plain"`), "Duplicate"},
		"comment":                  {with(`{"r`, `{/**/"r`), "decode"},
		"cut short":                {full[:len(full)-1], "EOF"},
		"time in another spelling": {with(`"Plain"`, `"at":"2026-03-01 06:30","Plain"`), "parsing time"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			into := strictOuter{Hidden: 7}
			if err := DecodeStrict([]byte(c.in), &into); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%s: got %+v and error %v, want an error with %q", c.in, into, err, c.want)
			}
			same(t, true, into.Hidden == 7 && into.Points == nil) // untouched
		})
	}
	free := with(`"Plain"`, `"free":{"any":[null,{"thing":1}]},"raw":{"k":null},"ptr":{"volts":1},"at":"2026-03-01T06:30:00Z","Plain"`)
	if err := DecodeStrict([]byte(free), &got); err != nil {
		t.Error(err)
	}
	for _, into := range []any{nil, strictOuter{}, (*strictOuter)(nil)} {
		if err := DecodeStrict([]byte(full), into); err == nil {
			t.Errorf("decoding into %T was accepted", into)
		}
	}
}

// FuzzDecodeStrict: what is accepted holds every required key exactly once, so it
// must be the same document as what marshalling the result gives, apart from order,
// spelling of numbers and what is optional.
func FuzzDecodeStrict(f *testing.F) {
	for _, s := range []string{`{"volts":1}`, `{"volts":1,"note":"x"}`, `{"VOLTS":1}`, `{"volts":1,"volts":2}`, `{}`, `null`, `{"volts":null}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		var in strictInner
		if DecodeStrict(b, &in) != nil {
			same(t, strictInner{}, in)
			return
		}
		var keys map[string]any
		if err := json.Unmarshal(b, &keys); err != nil {
			t.Fatal(err)
		}
		if v, ok := keys["volts"].(float64); !ok || v != in.Volts {
			t.Fatalf("%q gave %v", b, in)
		}
		note, _ := keys["note"].(string)
		if delete(keys, "volts"); note != in.Note {
			t.Fatalf("%q gave %v", b, in)
		}
		if delete(keys, "note"); len(keys) != 0 {
			t.Fatalf("%q: unknown keys accepted", b)
		}
	})
}
