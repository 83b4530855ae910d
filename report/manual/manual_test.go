package manual

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

const aTopic = "# volts: what is read, and how\n\nFirst words,\nand `handback try` or [a page](https://example.org).\n\n## One `word`\n\n" +
	"- a point that\n  goes on\n- another\n\n1. a number\n\n<!-- file: x.yaml -->\n```yaml\na: 1\n\n  'b': \\n\n```\n\n.hidden dot\n"

func TestTopic(t *testing.T) {
	got, err := Topic(aTopic)
	if err != nil {
		t.Fatal(err)
	}
	want := Page{Name: "volts", Section: Topics, Title: "what is read, and how", Blocks: []Block{
		{Sort: Paragraph, Text: "First words, and `handback try` or a page (https://example.org)."},
		{Sort: Heading, Text: "One word"},
		{Sort: Point, Mark: "-", Text: "a point that goes on"},
		{Sort: Point, Mark: "-", Text: "another"},
		{Sort: Point, Mark: "1.", Text: "a number"},
		{Sort: Shown, Lines: []string{"a: 1", "", `  'b': \n`}},
		{Sort: Paragraph, Text: ".hidden dot"},
	}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	for text, wrong := range map[string]string{
		"plan\n":                          "no title",
		"# volts: x\n\n| a | b |\n":       "line 3",
		"# volts: x\n\n### deep\n":        "line 3",
		"# volts: x\n\n  set in\n":        "belongs to no point",
		"# volts: x\n\n```sh\nhandback\n": "not closed",
		"# volts: x\n\nsee `handback\n":   "closes none",
	} {
		if _, err := Topic(text); err == nil || !strings.Contains(err.Error(), wrong) {
			t.Errorf("%q: %v, want %s", text, err, wrong)
		}
	}
}

func TestText(t *testing.T) {
	page, err := Topic(aTopic)
	if err != nil {
		t.Fatal(err)
	}
	page.Blocks = append(page.Blocks, Block{Sort: Point, Mark: "key", Text: strings.Repeat("w ", 32) + "`one two`"},
		Block{Sort: Point, Mark: "a_term_of_length", Text: "below"},
		Block{Sort: Paragraph, Text: "What `read` takes, `handback read` and `plan check` too, `--yes`."}, Block{Sort: Point, Mark: "-", Text: "`ratio`: a term"})
	want := `volts: what is read, and how

First words, and handback try or a page (https://example.org).

ONE WORD

  - a point that goes on
  - another
  1. a number

    a: 1

      'b': \n

.hidden dot

  key             ` + strings.TrimSpace(strings.Repeat("w ", 28)) + " w w w\n" + strings.Repeat(" ", 18) + "w \"one two\"\n" + `  a_term_of_length
      below

What "read" takes, handback read and "plan check" too, --yes.

  - ratio: a term
`
	if diff := cmp.Diff(want, page.Text()); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// What is written for man says no request that it was not meant to say, and shows every
// sign that means something to roff. Names of signs: groff_char(7).
func TestRoff(t *testing.T) {
	page, err := Topic(aTopic)
	if err != nil {
		t.Fatal(err)
	}
	want := `.TH "HANDBACK\-VOLTS" 7 "" "handback 1"
.nh
.ad l
.SH NAME
handback\-volts \- what is read, and how
.SH DESCRIPTION
First words, and \fBhandback try\fR or a page (https://\:example.org).
.SH "ONE WORD"
.IP \(bu 4
a point that goes on
.PD
.PD 0
.IP \(bu 4
another
.PD
.PD 0
.IP 1. 4
a number
.PD
.PP
.RS 4
.nf
a: 1

  \(aqb\(aq: \en
.fi
.RE
.PP
\&.hidden dot
.SH SEE ALSO
.BR handback (1),
.BR handback\-plan\-check (1)
`
	got := page.Roff("handback 1", Page{Name: "handback", Section: Commands}, Page{Name: "handback plan check", Section: Commands})
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// The reference says of each key what the schema says, and finds what stands within.
func TestReference(t *testing.T) {
	schema := `{"properties": {
  "title": {"description": "what it is"}, "rule": {"description": "how", "enum": ["guarded", "simple", null]},
  "people": {"description": "who", "items": {"$ref": "#/$defs/person"}}, "client": {"$ref": "#/$defs/firm", "description": "who pays"},
  "steps": {"description": "acts", "items": {"$ref": "#/$defs/step"}}},
 "then": {"required": ["title"], "else": {"required": ["people"]}},
 "$defs": {
  "person": {"properties": {"id": {"description": "name"}, "firm": {"$ref": "#/$defs/firm", "description": "employer"}}, "required": ["id"]},
  "firm": {"properties": {"name": {"description": "its name"}}},
  "check": {"properties": {"given": {"description": "what it needs"}}, "required": ["check"], "allOf": [
    {"if": {"properties": {"kind": {"const": "volts"}}}, "then": {"properties": {"act": false}, "else": {"properties": {"given": {"required": ["low"]}}}}}]},
  "hold": {}, "plain-step": {},
  "given-volts": {"properties": {"low": {"$ref": "#/$defs/voltage", "description": "least; a voltage: V"}, "zero": {"anyOf": [{"type": "boolean"}], "description": "at zero"}}},
  "voltage": {"type": "string"}}}`
	page, err := Reference([]byte(schema), []Kind{{Name: "volts", Title: "Volts", Shows: "They are there.", Sources: []string{"IEC 1"}, Unread: []string{"IEC 2 (from memory)"}}})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, b := range page.Blocks[1:] {
		got = append(got, strings.TrimPrefix(b.Mark+": "+b.Text, ": "))
	}
	want := []string{
		"a plan", "people: needed: who; a list. Its keys stand under PEOPLE.", "title: needed: what it is.", "client: who pays. Its keys stand under CLIENT.",
		"rule: how; one of guarded, simple.", "steps: acts; a list, each a check, a hold point or a plain step.",
		"people", "id: needed: name.", "firm: employer. Its keys stand under CLIENT.",
		"client", "name: its name.",
		"steps: a check", "given: what it needs.", "steps: a hold point", "steps: a plain step",
		"given: volts", "Volts. They are there.", "Limits come from: IEC 1.", "Not read by who wrote this: IEC 2 (from memory).",
		"low: needed: least; a voltage: V.", "zero: at zero; yes or no.",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if _, err := Reference([]byte("{"), nil); err == nil {
		t.Error("half a schema is laid out")
	}
}
