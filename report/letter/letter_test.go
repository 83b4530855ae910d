package letter_test

import (
	"context"
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/report/letter"
	"handback/testdata/demo"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

func TestMain(m *testing.M) { rig.RunTests(m) }

func data(t *testing.T) letter.Data {
	t.Helper()
	r := rig.Told(t)
	return letter.From(r.Document(r.Now.Add(time.Hour)))
}

func fill(t *testing.T, f letter.Form, source string, d letter.Data) (string, error) {
	t.Helper()
	out, err := letter.Fill(context.Background(), "letter.txt", f, []byte(source), d)
	return string(out), err
}

// The data are those of the handover: what a technician typed, what it came to, who
// accepted what.
func TestFill(t *testing.T) {
	d := data(t)
	for source, want := range map[string]string{
		"{{.Job}}: {{.Verdict}}, {{.Entries}} entries":                                                                                                 "pump-t1-1: not-ready, 20 entries",
		"{{range .Concessions}}{{.Check}} {{.Verdict}} by {{.Engineer}}{{end}}":                                                                        "ir fail by Eva Muster",
		"{{range .Checks}}{{.Number}} {{.ID}} {{upper .Verdict}}{{if .Accepted}}*{{end}};{{end}}":                                                      "1 isolated PASS;2 ir FAIL*;3 hv PASS;4 volts PASS;5 earth-ref PASS;6 tidy MISSING;",
		"{{range .Checks}}{{if eq .ID \"volts\"}}{{len .Attempts}} {{(index .Attempts 1).By}}{{end}}{{end}}":                                           "2 Ada Example",
		"{{range .Checks}}{{range .Attempts}}{{range .Readings}}{{if eq .Typed \"11.20\"}}{{.Label}} {{.Value}} {{.Unit}}{{end}}{{end}}{{end}}{{end}}": "HV line-to-line volts 11.2 kV",
		"{{join \", \" (sortAlpha (splitList \" \" \"b a\"))}} {{printf \"%.2f\" 1.5}} {{trunc 3 .Job}}":                                               "a, b 1.50 pum",
		"{{indent 2 \"a\\nb\"}}": "  a\n  b",
	} {
		if got, err := fill(t, letter.Text, source, d); err != nil || got != want {
			t.Errorf("%s\ngives %q, %v\nwant  %q", source, got, err, want)
		}
	}
	d = letter.From(rig.Of(t, "plan.yaml", demo.Plan).Document(rig.Dawn))
	source := `{{index .Said "client.name"}}, {{.Issued}}{{range .Plant}}; {{.Sort}} {{.ID}} {{.Serial}} {{.Asset}} {{.Rating}}{{end}}`
	want := "Tarnholt Water, 2026-03-02; transformer T1 BCW-58064 TH-TR-40 630 kVA; transformer T2 BCW-21413 TH-TR-26 400 kVA; board MB SP-6110 TH-BD-28 "
	if got, err := fill(t, letter.Text, source, d); err != nil || got != want {
		t.Errorf("gives %q, %v, want %q", got, err, want)
	}
}

// In HTML what the record says is escaped for where it stands.
func TestFill_escapes(t *testing.T) {
	d := data(t)
	d.Title = `<script>alert(1)</script> & "more"`
	got, err := fill(t, letter.HTML, `<p title="{{.Title}}">{{.Title}}{{range .Checks}}<b {{if .Accepted}}class="a"{{end}}>{{.ID}}</b>{{end}}</p>`, d)
	if err != nil || strings.Contains(got, "<script") || !strings.Contains(got, "&lt;script&gt;") || !strings.Contains(got, `<b class="a">ir</b>`) {
		t.Errorf("%v: %s", err, got)
	}
}

// A template reaches nothing: no environment, file, network, clock, chance or key, and
// nothing that makes much of little.
func TestFill_reachesNothing(t *testing.T) {
	d := data(t)
	for _, f := range []string{"env \"HOME\"", "expandenv \"$HOME\"", "now", "date \"2006\" 0", "ago 0", "randAlpha 5", "randInt 1 2", "shuffle \"abc\"", "uuidv4", "getHostByName \"a\"",
		"genPrivateKey \"rsa\"", "derivePassword 1 \"a\" \"b\" \"c\" \"d\"", "htpasswd \"a\" \"b\"", "encryptAES \"a\" \"b\"", "genCA \"a\" 1", "bcrypt \"a\"", "osBase \"a\"",
		"repeat 9 \"a\"", "until 9", "list 1", "dict \"a\" 1", "default \"a\" 0", "fail \"a\"", "include \"a\""} {
		for _, form := range []letter.Form{letter.Text, letter.HTML} {
			_, err := fill(t, form, "{{"+f+"}}", d)
			if err == nil || !strings.Contains(err.Error(), "not defined") || !strings.Contains(err.Error(), "functions here: ") {
				t.Errorf("%s: %v", f, err)
			}
		}
	}
	if names := letter.Functions(); len(names) < 30 || !slices.IsSorted(names) {
		t.Errorf("functions %v", names)
	}
}

// Nothing runs for ever or without end, whatever a template says: it is stopped at a step,
// by what is too long, or by the one who asked.
func TestFill_ends(t *testing.T) {
	d := data(t)
	loops := func(n int) string {
		return strings.Repeat("{{range 9}}", n) + strings.Repeat("{{end}}", n)
	}
	for source, says := range map[string]string{
		"{{range 1000000000}}{{end}}":                                                                  "too many steps",
		"{{range 1000000}}{{range 1000000}}{{end}}{{end}}":                                             "too many steps",
		"{{range 1000000000}}{{if true}}{{else}}a{{end}}{{end}}":                                       "too many steps",
		"{{range 1000000000}}{{$.Deferral}}{{end}}":                                                    "more than 16 MiB",
		"{{$x := \"aaaa\"}}{{range 64}}{{$x = print $x $x}}{{end}}":                                    "at most 1048576 are taken",
		"{{$x := \"\\\\\"}}{{range 64}}{{$x = js $x}}{{end}}":                                          "at most 1048576 are taken",
		"{{printf \"%1000000000d\" 1}}":                                                                "widths of three digits",
		"{{printf \"%*d\" 1000000000 1}}":                                                              "widths of three digits",
		"{{indent 1000000000 \"a\"}}":                                                                  "0 to 80",
		"{{$x := \"aaaaaaaa\"}}{{range 14}}{{$x = print $x $x}}{{end}}{{replace \"a\" $x $x}}":         "too long a text",
		"{{$x := \"aaaaaaaa\"}}{{range 14}}{{$x = print $x $x}}{{end}}{{join $x (splitList \"\" $x)}}": "no more text",
		"{{define \"a\"}}{{template \"a\" .}}{{end}}{{template \"a\" .}}":                              "depth",
		loops(9): "loops stand in one another",
	} {
		_, err := fill(t, letter.Text, source, d)
		slow := err != nil && strings.Contains(err.Error(), "takes longer than") // a loaded machine comes to that bound first
		if err == nil || !strings.Contains(err.Error(), says) && !slow {
			t.Errorf("%s: %v, want %q", source, err, says)
		}
	}
	if _, err := fill(t, letter.HTML, loops(40), d); err == nil || !strings.Contains(err.Error(), "loops stand in one another") {
		t.Errorf("forty loops in one another: %v", err)
	}
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := letter.Fill(gone, "letter.txt", letter.Text, []byte("{{range 1000000}}a{{end}}"), d); !errors.Is(err, context.Canceled) {
		t.Errorf("one that nobody waits for: %v", err)
	}
	if _, err := fill(t, letter.Text, strings.Repeat("a", letter.MaxTemplate+1), d); err == nil || !strings.Contains(err.Error(), "at most 256 KiB") {
		t.Errorf("a long template: %v", err)
	}
	if _, err := fill(t, letter.Text, "a\xff", d); err == nil || !strings.Contains(err.Error(), "UTF-8") {
		t.Errorf("no text: %v", err)
	}
}

// An HTML template is stopped as a text one is, within a tag too.
func TestFill_endsHTML(t *testing.T) {
	outside.Long(t)
	d := data(t)
	for _, source := range []string{"<p>{{range 1000000000}}{{end}}</p>", "<a href=\"{{range 1000000000}}{{end}}\">a</a>"} {
		if _, err := fill(t, letter.HTML, source, d); err == nil || !strings.Contains(err.Error(), "too many steps") {
			t.Errorf("%s: %v", source, err)
		}
	}
}

// An error names the line and what could stand there.
func TestFill_errors(t *testing.T) {
	d := data(t)
	for source, says := range map[string][]string{
		"one\n{{.Chekcs}}":                          {"letter.txt:2:", "can't evaluate field Chekcs", "fields here: .Job, .Title"},
		"{{range .Checks}}\n{{.Nam}}{{end}}":        {"letter.txt:2:", "in Check", "fields here: .Number, .ID, .Title"},
		"{{.Title.Long}}":                           {"letter.txt:1:", "Long"},
		"one\ntwo {{if}}":                           {"letter.txt:2:"},
		"{{index .Said \"client.nam\"}}{{.Said.x}}": {"map has no entry for key \"x\"", "keys are those of .Identity"},
	} {
		_, err := fill(t, letter.Text, source, d)
		for _, want := range says {
			if err == nil || !strings.Contains(err.Error(), want) {
				t.Errorf("%q: %v, want %q", source, err, want)
			}
		}
	}
}

// The list of fields is that of the data: every one of them can be placed as it is named,
// each says what it is, and none has a method to reach further by.
func TestFields(t *testing.T) {
	fields := letter.Fields()
	if len(fields) < 100 {
		t.Fatalf("%d fields", len(fields))
	}
	var all strings.Builder
	for _, f := range fields {
		if len(f.Doc) < 3 {
			t.Errorf("%s says %q", f.Path, f.Doc)
		}
		lists := strings.Split(f.Path, "[]")
		for _, l := range lists[:len(lists)-1] {
			all.WriteString("{{range " + l + "}}")
		}
		if last := lists[len(lists)-1]; last != "" {
			all.WriteString("{{print " + last + "}}")
		}
		all.WriteString(strings.Repeat("{{end}}", len(lists)-1) + "\n")
	}
	d := full(t)
	if _, err := fill(t, letter.Text, all.String(), d); err != nil {
		t.Error(err)
	}
	plain(t, reflect.TypeFor[letter.Data](), map[reflect.Type]bool{})
}

// full is data with one item in every list, so that every field is placed.
func full(t *testing.T) letter.Data {
	t.Helper()
	var d letter.Data
	var put func(v reflect.Value)
	put = func(v reflect.Value) {
		for i := range v.NumField() {
			if f := v.Field(i); f.Kind() == reflect.Slice {
				f.Set(reflect.MakeSlice(f.Type(), 1, 1))
				if f.Type().Elem().Kind() == reflect.Struct {
					put(f.Index(0))
				}
			}
		}
	}
	put(reflect.ValueOf(&d).Elem())
	return d
}

func plain(t *testing.T, of reflect.Type, seen map[reflect.Type]bool) {
	if seen[of] {
		return
	}
	seen[of] = true
	if of.NumMethod()+reflect.PointerTo(of).NumMethod() > 0 {
		t.Errorf("%s has methods", of)
	}
	switch of.Kind() {
	case reflect.Slice:
		plain(t, of.Elem(), seen)
	case reflect.Map:
		plain(t, of.Key(), seen)
		plain(t, of.Elem(), seen)
	case reflect.Struct:
		for i := range of.NumField() {
			plain(t, of.Field(i).Type, seen)
		}
	case reflect.Func, reflect.Interface, reflect.Pointer, reflect.Chan:
		t.Errorf("%s is no plain data", of)
	}
}

func TestFormOf(t *testing.T) {
	for file, want := range map[string]letter.Form{"a.txt": letter.Text, "a.HTML": letter.HTML, "dir/a.html.tmpl": letter.HTML, "a.csv": letter.Text, "a.docx": 0, "a": 0, "a.tmpl": 0} {
		got, err := letter.FormOf(file)
		if got != want || (err == nil) != (want != 0) {
			t.Errorf("%s: %v, %v", file, got, err)
		}
	}
}
