package chain

import (
	"bytes"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
)

// The hashes were made with printf and sha256sum (GNU coreutils), not with this package.
func TestHash_outside(t *testing.T) {
	same(t, "75f59669588f19fb654d0c712ff1b9d20e32018165a7eac34c88cbdde77aa833", HashBody([]byte(`{"v":1}`)))
	same(t, "2e02ec5cdf6d344a82be5eec55e0d84c9acf014c4d60a08b02570b2fd3ea796c", Genesis("pump-1", testNonce))
	same(t, "44bfc19f3143cbe5f99387630dccbe565024fcec449defe8fe33919283044a2c", HashPlan(testPlan))
}

func TestParseEntry_refused(t *testing.T) {
	good := string(goodBody(t))
	replace := func(old, new string) string {
		if !strings.Contains(good, old) {
			t.Fatalf("%q is not in %s", old, good)
		}
		return strings.Replace(good, old, new, 1)
	}
	cases := map[string]struct{ body, want string }{
		"empty":           {"", "no data"},
		"list":            {"[]", "cannot unmarshal array"},
		"space":           {replace(`,"by"`, `, "by"`), "RFC 8785"},
		"after the end":   {good + "\n", "RFC 8785"},
		"order":           {replace(`"seq":2,"v":1`, `"v":1,"seq":2`), "RFC 8785"},
		"twice":           {replace(`"v":1`, `"v":1,"v":1`), "Duplicate"},
		"unknown first":   {replace(`{"at"`, `{"aa":1,"at"`), "unknown"},
		"unknown last":    {replace(`"v":1`, `"v":1,"w":1`), "unknown"},
		"other spelling":  {replace(`"kind"`, `"Kind"`), "Kind: unknown"},
		"missing":         {replace(`"seq":2,`, ``), "seq: missing"},
		"null":            {replace(`"seq":2`, `"seq":null`), "seq: null"},
		"number as text":  {replace(`"seq":2`, `"seq":"2"`), "seq of type int"},
		"fraction":        {replace(`"seq":2`, `"seq":2.5`), "seq of type int"},
		"seq 0":           {replace(`"seq":2`, `"seq":0`), "first is 1"},
		"empty check":     {replace(`"check":"lv-volts"`, `"check":""`), "check is empty"},
		"text as number":  {replace(`"by":"Ada Example"`, `"by":7`), "by of type string"},
		"data a list":     {replace(`"data":{"volts":249.1}`, `"data":[]`), "object is wanted"},
		"twice in data":   {replace(`"volts":249.1`, `"volts":249.1,"volts":249.1`), "Duplicate"},
		"deep data":       {replace(`249.1`, strings.Repeat("[", 20000)+strings.Repeat("]", 20000)), "depth"},
		"data null":       {replace(`"data":{"volts":249.1}`, `"data":null`), "data is null"},
		"1.0":             {replace(`249.1`, `249.10`), "RFC 8785"},
		"needless escape": {replace(`Ada`, `\u0041da`), "RFC 8785"},
		"upper hex":       {replace(`Ada`, `\u001Fda`), "RFC 8785"},
		"long escape":     {replace(`Ada`, `\u000ada`), "RFC 8785"},
		"control escaped": {replace(`Ada`, `\u001fda`), "control character"},
		"surrogates":      {replace(`Ada`, "\xed\xa0\x80"), "UTF-8"},
		"Z for +00:00":    {replace(`+05:30`, `+00:00`), "RFC 8785"},
		"comma in time":   {replace(`00.25+`, `00,25+`), "RFC 8785"},
		"upper-case prev": {replace(`"prev":"a`, `"prev":"A`), "lower-case"},
		"job id":          {replace(`pump-1`, `pump-01`), "job id"},
		"newer version":   {replace(`"v":1`, `"v":2`), "newer"},
	}
	for name, c := range cases {
		t.Run(name, func(t *testing.T) {
			if e, err := ParseEntry([]byte(c.body)); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %+v and error %v, want an error with %q", e, err, c.want)
			}
		})
	}
	if _, err := ParseEntry([]byte(replace(`"v":1`, `"v":2`))); !errors.Is(err, ErrNewer) {
		t.Errorf("got %v, want ErrNewer", err)
	}
}

// Every prefix and every body with one byte changed must be refused or be another
// entry with another hash.
func TestParseEntry_everyByte(t *testing.T) {
	good := goodBody(t)
	want, err := ParseEntry(good)
	if err != nil {
		t.Fatal(err)
	}
	for i := range good {
		if _, err := ParseEntry(good[:i]); err == nil {
			t.Errorf("the first %d bytes were accepted", i)
		}
		for c := range 256 {
			changed := bytes.Clone(good)
			if changed[i] = byte(c); bytes.Equal(changed, good) {
				continue
			}
			if e, err := ParseEntry(changed); err == nil && e.Hash == want.Hash {
				t.Errorf("byte %d as %#x gives the same hash", i, c)
			}
		}
	}
}

func goodBody(t testing.TB) []byte {
	t.Helper()
	e, err := EncodeEntry(Head{V: 1, Job: "pump-1", Seq: 2, Prev: strings.Repeat("a", 64), At: dawn, By: "Ada Example", Kind: "answers", Check: "lv-volts"},
		[]byte(`{"volts":249.1}`))
	if err != nil {
		t.Fatal(err)
	}
	return e.Body
}

// RFC 8785, 3.2.2 and 3.2.3: the example document and its canonical form; 3.2.3
// also gives the order of keys by UTF-16 code units used in the second case.
func TestParseEntry_rfc8785(t *testing.T) {
	with := func(data string) []byte {
		return bytes.Replace(goodBody(t), []byte(`{"volts":249.1}`), []byte(data), 1)
	}
	for _, canonical := range []string{
		`{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\u000f\nA'B\"\\\\\"/"}`,
		"{\"\\r\":\"Carriage Return\",\"1\":\"One\",\"\u0080\":\"Control\u007f\",\"ö\":\"Latin Small Letter O With Diaeresis\"," +
			"\"€\":\"Euro Sign\",\"😀\":\"Emoji: Grinning Face\",\"\ufb33\":\"Hebrew Letter Dalet With Dagesh\"}",
	} {
		if e, err := ParseEntry(with(canonical)); err != nil || string(e.Data) != canonical {
			t.Errorf("%s: %s, %v", canonical, e.Data, err)
		}
	}
	if _, err := ParseEntry(with(`{"ﬀ":1,"😀":1}`)); err == nil {
		t.Error("keys in the order of code points, not of UTF-16 units, were accepted")
	}
}

// What the quick look takes is what the decoder and the writer of RFC 8785 take, to the
// member: of a body with every sort of value, and of all that come of it by one byte.
func TestParseEntry_quick(t *testing.T) {
	rich := bytes.Replace(goodBody(t), []byte(`{"volts":249.1}`), []byte(`{"a":[],"b":[1,-5.5,1e+21,1e-7,0,{"c":"\"\\\n µ€😀"}],"d":{},"e":true,"f":null}`), 1)
	if _, ok := quickBody(rich); !ok {
		t.Fatalf("%s is not read at a look", rich)
	}
	taken := 0
	hold := func(body []byte) {
		quick, ok := quickBody(body)
		if !ok {
			return
		}
		taken++
		if b, err := carefulBody(body); err != nil || !reflect.DeepEqual(b, quick) {
			t.Errorf("%q: %+v at a look, %+v, %v", body, quick, b, err)
		}
	}
	for i := range rich {
		hold(slices.Delete(bytes.Clone(rich), i, i+1))
		for _, c := range []byte("\"\\{}[],:-+.0159eEuntZ_ \x00\x1f\x7f\x80\xc3\xff") {
			changed := bytes.Clone(rich)
			changed[i] = c
			hold(changed)
			hold(slices.Insert(bytes.Clone(rich), i, c))
		}
	}
	if taken < 1000 {
		t.Errorf("only %d bodies were taken at a look", taken)
	}
}

// FuzzDecodeEntry: what is accepted, written again, gives the same bytes.
func FuzzDecodeEntry(f *testing.F) {
	f.Add(goodBody(f))
	for _, s := range []string{`{}`, `{"a":1e+30,"b":[1,-5,{"c":"\u000f\n"}]}`, `{"😀":1,"ﬀ":2}`, `{"a":-0}`, `{"a":1,"a":2}`, `{"a":"\ufffd"}`, `{"a":"�"}`, `{"a":01}`} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		e, err := ParseEntry(b)
		if err != nil {
			return
		}
		back, err := EncodeEntry(e.Head, e.Data)
		if err != nil || !bytes.Equal(back.Body, b) || back.Hash != HashBody(b) {
			t.Fatalf("%q: written again %q, %v", b, back.Body, err)
		}
	})
}

func TestJobID(t *testing.T) {
	for id, want := range map[string]int{"pump-1": 1, "a-1-22": 22, "A.b_c-9": 9} {
		if _, n, err := SplitJob(id); err != nil || n != want {
			t.Errorf("%s: %d %v, want %d", id, n, err, want)
		}
	}
	for _, id := range []string{"", "pump", "-1", "pump-", "pump-0", "pump-01", "pump-+1", "../x-1", "a/b-1", "ä-1", ".a-1", "a b-1", strings.Repeat("x", 65) + "-1"} {
		if stem, n, err := SplitJob(id); err == nil {
			t.Errorf("%q was accepted as %q %d", id, stem, n)
		}
	}
}
