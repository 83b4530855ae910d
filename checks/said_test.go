package checks

import (
	"encoding/json"
	"math"
	"reflect"
	"strings"
	"testing"
	"time"
)

var (
	at10    = time.Date(2026, 3, 2, 10, 0, 0, 500, time.FixedZone("", 3600))
	tapSaid = Say("other-tap-nearer", Word("tap", "2"), Num("lv", 430.12, "V"))
)

// asValue is the value of an argument, whatever its name.
func asValue(a Arg) Value { return a.Value }

// How each sort of value stands in an entry: this text is frozen.
func TestValue_json(t *testing.T) {
	for text, v := range map[string]Value{
		`{"word":"T1"}`:          asValue(Word("", "T1")),
		`{"word":""}`:            asValue(Word("", "")),
		`{"unit":"V","x":430.5}`: asValue(Num("", 430.5, "V")),
		`{"x":0}`:                asValue(Num("", 0, "")),
		`{"unit":"V","x":"NaN"}`: asValue(Num("", math.NaN(), "V")),
		`{"x":"+Inf"}`:           asValue(Num("", math.Inf(1), "")),
		`{"x":"-Inf"}`:           asValue(Num("", math.Inf(-1), "")),
		`{"at":"2026-03-02T10:00:00.0000005+01:00"}`: asValue(At("", at10)),
		`{"field":"hv_r60"}`:                         asValue(Label("", Field{Key: "hv_r60", Label: "HV, after 60 s"})),
		`{"value":"r60_hv"}`:                         asValue(OfValue("", Derived{Key: "r60_hv", Value: 1})),
		`{"shown":"its calibration ran out"}`:        asValue(Shown("", "its calibration ran out")),
		`{"shown":""}`:                               asValue(Shown("", "")),
		`{"list":[]}`:                                asValue(List("")),
		`{"list":[{"word":"a"},{"list":[{"x":1}]}]}`: asValue(List("", asValue(Word("", "a")), asValue(List("", asValue(Num("", 1, "")))))),
		`{"said":{"code":"inserts"}}`:                asValue(Inner("", Say("inserts"))),
		`{"said":{"kind":"ratio","code":"other-tap-nearer","values":{"lv":{"unit":"V","x":430.12},"tap":{"word":"2"}}}}`: asValue(Inner("", tapSaid.Of("ratio"))),
	} {
		got, err := json.Marshal(v)
		if err != nil || string(got) != text {
			t.Errorf("written as %s, %v; want %s", got, err, text)
		}
		var back Value
		if err := json.Unmarshal([]byte(text), &back); err != nil || !back.same(v) || back.sort() != v.sort() {
			t.Errorf("%s is read as %+v, %v; want %+v", text, back, err, v)
		}
	}
}

// An entry of another hand: whatever this program would not have written is refused,
// so that nothing is dropped on the way and nothing can be told in two ways.
func TestValue_refused(t *testing.T) {
	for text, says := range map[string]string{
		`{}`:                                  "a value has one of",
		`null`:                                "a value has one of",
		`[]`:                                  "array",
		`"T1"`:                                "string",
		`{"word":"a","x":1}`:                  "a value has one of",
		`{"word":"a","shown":"b"}`:            "a value has one of",
		`{"word":"a","unit":"V"}`:             "a number alone",
		`{"unit":"V"}`:                        "a number alone",
		`{"Word":"a"}`:                        "no sort of value",
		`{"text":"a"}`:                        "no sort of value",
		`{"word":null}`:                       "null",
		`{"word":1}`:                          "number",
		`{"x":null}`:                          "null",
		`{"x":true}`:                          "bool",
		`{"x":"12"}`:                          "a number is wanted",
		`{"x":"Inf"}`:                         "a number is wanted",
		`{"x":"nan"}`:                         "a number is wanted",
		`{"x":1e999}`:                         "1e999",
		`{"unit":"","x":1}`:                   "a text is wanted",
		`{"unit":null,"x":1}`:                 "a text is wanted",
		`{"at":"2026-03-02"}`:                 "at:",
		`{"at":"2026-03-02T10:00:00.500Z"}`:   "not spelt",
		`{"at":null}`:                         "not spelt",
		`{"field":""}`:                        "a text is wanted",
		`{"value":""}`:                        "a text is wanted",
		`{"shown":null}`:                      "null",
		`{"list":null}`:                       "null",
		`{"list":[null]}`:                     "a value has one of",
		`{"list":[{"word":"a","x":1}]}`:       "a value has one of",
		`{"said":null}`:                       "null",
		`{"said":{}}`:                         "no code",
		`{"said":{"code":""}}`:                "a text is wanted",
		`{"said":{"Code":"a"}}`:               "kind, code and values",
		`{"said":{"code":"a","words":"b"}}`:   "kind, code and values",
		`{"said":{"code":"a","kind":""}}`:     "a text is wanted",
		`{"said":{"code":"a","values":{}}}`:   "left out",
		`{"said":{"code":"a","values":null}}`: "null",
		`{"said":{"code":"a","values":{"b":{}}}}`: "a value has one of",
	} {
		var v Value
		if err := json.Unmarshal([]byte(text), &v); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s is read as %+v, %v; want an error that says %q", text, v, err, says)
		}
	}
}

// A bag may come from anyone: a value nested deep is refused before it is read depth by
// depth, and brackets inside a text are no depth.
func TestValue_nested(t *testing.T) {
	lists := func(n int, within string) string {
		return strings.Repeat(`{"list":[`, n) + within + strings.Repeat(`]}`, n)
	}
	text := `{"word":"\"` + strings.Repeat("[{", 100) + `"}`
	for n, says := range map[int]string{0: "", 19: "", 20: "nested deeper", 4900: "nested deeper"} {
		var v Value
		err := json.Unmarshal([]byte(lists(n, text)), &v)
		if says == "" && err != nil || says != "" && (err == nil || !strings.Contains(err.Error(), says)) {
			t.Errorf("%d lists: %v; want an error that says %q", n, err, says)
		}
	}
}

// What two say is the same when codes and values are: a number to a part in 1e9 in its
// own unit, and what is only shown never matters.
func TestSaid_same(t *testing.T) {
	say := func(args ...Arg) Said { return Say("code", args...) }
	for _, c := range []struct {
		name string
		a, b Said
		want bool
	}{
		{"nothing", Said{}, Said{}, true},
		{"nothing and something", Said{}, say(), false},
		{"no values and none", say(), Said{Code: "code", Values: Values{}}, true},
		{"codes", say(), Say("other"), false},
		{"kinds", say(), say().Of("ratio"), false},
		{"words", say(Word("a", "T1")), say(Word("a", "T1")), true},
		{"other words", say(Word("a", "T1")), say(Word("a", "T2")), false},
		{"another name", say(Word("a", "T1")), say(Word("b", "T1")), false},
		{"one more", say(Word("a", "T1")), say(Word("a", "T1"), Word("b", "")), false},
		{"numbers within", say(Num("a", 1000, "V")), say(Num("a", 1000+0.99e-6, "V")), true},
		{"numbers beyond", say(Num("a", 1000, "V")), say(Num("a", 1000+1.1e-6, "V")), false},
		{"next to nothing", say(Num("a", 0, "V")), say(Num("a", 0.9e-12, "V")), true},
		{"more than nothing", say(Num("a", 0, "V")), say(Num("a", 1.1e-12, "V")), false},
		{"units", say(Num("a", 1, "V")), say(Num("a", 1, "A")), false},
		{"signs", say(Num("a", 1, "V")), say(Num("a", -1, "V")), false},
		{"nothing and nothing below", say(Num("a", 0, "V")), say(Num("a", math.Copysign(0, -1), "V")), true},
		{"not a number", say(Num("a", math.NaN(), "V")), say(Num("a", math.NaN(), "V")), true},
		{"not a number and one", say(Num("a", math.NaN(), "V")), say(Num("a", 1, "V")), false},
		{"infinite", say(Num("a", math.Inf(1), "V")), say(Num("a", math.Inf(1), "V")), true},
		{"infinite and great", say(Num("a", math.Inf(1), "V")), say(Num("a", math.MaxFloat64, "V")), false},
		{"two infinities", say(Num("a", math.Inf(1), "V")), say(Num("a", math.Inf(-1), "V")), false},
		{"a number and its word", say(Num("a", 1, "")), say(Word("a", "1")), false},
		{"moments", say(At("a", at10)), say(At("a", at10.UTC())), true},
		{"other moments", say(At("a", at10)), say(At("a", at10.Add(1))), false},
		{"labels", say(Label("a", Field{Key: "u", Label: "volts"})), say(Label("a", Field{Key: "u", Label: "voltage"})), true},
		{"fields", say(Label("a", Field{Key: "u"})), say(Label("a", Field{Key: "v"})), false},
		{"derived", say(OfValue("a", Derived{Key: "u", Value: 1})), say(OfValue("a", Derived{Key: "u", Value: 2})), true},
		{"other derived", say(OfValue("a", Derived{Key: "u"})), say(OfValue("a", Derived{Key: "v"})), false},
		{"a field and a derived value", say(Label("a", Field{Key: "u"})), say(OfValue("a", Derived{Key: "u"})), false},
		{"shown", say(Shown("a", "one")), say(Shown("a", "other")), true},
		{"shown and nothing shown", say(Shown("a", "one")), say(Shown("a", "")), true},
		{"shown and a word", say(Shown("a", "one")), say(Word("a", "one")), false},
		{"nothing shown and no word", say(Shown("a", "")), say(Word("a", "")), false},
		{"shown and not there", say(Shown("a", "one")), say(), false},
		{"lists", say(WordList("a", "x", "y")), say(WordList("a", "x", "y")), true},
		{"lists in another order", say(WordList("a", "x", "y")), say(WordList("a", "y", "x")), false},
		{"lists of another length", say(WordList("a", "x")), say(WordList("a", "x", "y")), false},
		{"empty lists", say(List("a")), say(WordList("a")), true},
		{"an empty list and no word", say(List("a")), say(Word("a", "")), false},
		{"numbers in lists", say(Volts("a", []float64{400})), say(Volts("a", []float64{400 + 1e-8})), true},
		{"said within", say(Inner("a", tapSaid)), say(Inner("a", tapSaid)), true},
		{"another code within", say(Inner("a", tapSaid)), say(Inner("a", Say("inserts"))), false},
		{"shown within", say(Inner("a", say(Shown("b", "one")))), say(Inner("a", say(Shown("b", "other")))), true},
		{"a number within", say(Inner("a", say(Num("b", 1, "V")))), say(Inner("a", say(Num("b", 1.1, "V")))), false},
	} {
		if c.a.Same(c.b) != c.want || c.b.Same(c.a) != c.want {
			t.Errorf("%s: %v and %v are the same: %v and, turned over, %v; want %v", c.name, c.a, c.b, c.a.Same(c.b), c.b.Same(c.a), c.want)
		}
		if written := inJSON(t, c.a) == inJSON(t, c.b); c.a.Alike(c.b) != written || c.b.Alike(c.a) != written {
			t.Errorf("%s: %v and %v are alike: %v; as they are written: %v", c.name, c.a, c.b, c.a.Alike(c.b), written)
		}
	}
}

// What is read by one look is what encoding/json reads, and every text that is not as it was
// written goes to it.
func TestValues_plain(t *testing.T) {
	for text, plain := range map[string]bool{
		`{"a":{"word":"T1"},"b":{"unit":"V","x":-430.5e-3},"c":{"field":"u"},"d":{"value":"u"},"e":{"shown":"æ, 1 Ω"}}`:     true,
		`{"a":{"said":{"code":"c","values":{"b":{"list":[{"word":"}"},{"x":1}]}}}},"b":{"at":"2026-03-02T10:00:00+01:00"}}`: true,
		`{"a":{"word":"\u0041\"{"},"b":{"x":"NaN"}}`: true,
		`{"b":{"word":"T1"},"a":{"word":"T2"}}`:      false,
		`{"a":{"word":"T1"}, "b":{"word":"T2"}}`:     false,
		`{"a": {"word":"T1"}}`:                       false,
		`{"\u0061":{"word":"T1"}}`:                   false,
		`{}`:                                         false,
	} {
		got, ok, err := plainValues([]byte(text))
		if ok != plain || err != nil {
			t.Errorf("%s is read by one look: %v, %v; want %v", text, ok, err, plain)
		}
		var members map[string]map[string]any
		var all Values
		if json.Unmarshal([]byte(text), &members) != nil || json.Unmarshal([]byte(text), &all) != nil || len(all) != len(members) {
			t.Fatalf("%s is not read: %+v %+v", text, members, all)
		}
		for i, a := range all {
			if ok && !got[i].Value.alike(a.Value) {
				t.Errorf("%s: %s is %+v by one look", text, a.Name, got[i].Value)
			}
			if word, is := members[a.Name]["word"]; is && word != a.Value.Word {
				t.Errorf("%s: %s is %q, want %q", text, a.Name, a.Value.Word, word)
			}
			if x, is := members[a.Name]["x"].(float64); is && a.Value.Held.X != x {
				t.Errorf("%s: %s is %v, want %v", text, a.Name, a.Value.Held.X, x)
			}
		}
	}
}

// inJSON is what an entry holds of it.
func inJSON(t *testing.T, s Said) string {
	t.Helper()
	text, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// What is read is what was written, member by member, and says the same when it has
// been written again.
func FuzzValue(f *testing.F) {
	for _, s := range []string{`{"word":"T1"}`, `{"unit":"V","x":430.5}`, `{"x":"NaN"}`, `{"at":"2026-03-02T10:00:00+01:00"}`, `{"field":"u"}`, `{"value":"u"}`, `{"shown":""}`,
		`{"list":[{"word":""},{"x":-0}]}`, `{"said":{"kind":"k","code":"c","values":{"a":{"said":{"code":"d"}}}}}`, `{"word":"a","unit":"V"}`, `{"Word":"a"}`, `{"said":{"CODE":"a"}}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var v Value
		if json.Unmarshal(data, &v) != nil {
			return
		}
		text, err := json.Marshal(v)
		if err != nil {
			t.Fatalf("%s is read and cannot be written: %v", data, err)
		}
		var was, is any
		if json.Unmarshal(data, &was) != nil || json.Unmarshal(text, &is) != nil || !reflect.DeepEqual(was, is) {
			t.Errorf("%s is written again as %s", data, text)
		}
		var again Value
		if err := json.Unmarshal(text, &again); err != nil || !again.same(v) || !v.same(again) {
			t.Errorf("%s says %+v and, written again, %+v, %v", data, v, again, err)
		}
	})
}
