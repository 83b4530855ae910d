package report_test

import (
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/checks"
	"handback/records/chain"
	"handback/report"
	"handback/report/fork"
	"handback/testdata/rig"
)

// What a released program has written is read for ever: the members of entries, of
// statements, of handover data and of what a finding says, the kinds of entries and
// the closed sets of words. A line that moves or goes is a break with every record.
func TestFormats_frozen(t *testing.T) {
	var out strings.Builder
	section := func(name string, v any) {
		fmt.Fprintf(&out, "%s\n", name)
		shape(&out, reflect.TypeOf(v), "  ", map[reflect.Type]bool{})
	}
	section("entry", chain.Head{})
	for _, k := range []struct {
		kind string
		data any
	}{
		{report.EntryOpen, report.Opened{}}, {report.EntryRead, report.Read{}}, {report.EntryJudge, report.Judged{}}, {report.EntryCorrect, report.Corrected{}}, {report.EntrySkip, report.Skipped{}}, {report.EntryNote, report.Noted{}},
		{report.EntryConcede, report.Conceded{}}, {report.EntryStep, report.Stepped{}}, {report.EntryUndo, report.Undone{}}, {report.EntryLeft, report.NotDone{}}, {report.EntryFound, report.FoundSo{}}, {report.EntryBad, report.FoundBad{}}, {report.EntryDefect, report.Raised{}}, {report.EntryClose, report.Closed{}}, {report.EntryAmend, report.Amended{}}, {report.EntryAccept, report.AcceptedPlan{}}, {report.EntryRemark, report.Remarked{}}, {report.EntryAnswer, report.Answered{}}, {report.EntryWithdraw, report.Withdrawn{}}, {report.EntryReview, report.Reviewed{}}, {report.EntrySign, report.Signed{}}, {report.EntryAttach, chain.Attached{}}, {report.EntryAdopt, fork.Adopted{}}, {report.EntryJoin, fork.Joined{}},
	} {
		section("data of entries of kind "+k.kind, k.data)
	}
	section("statement", chain.Statement{})
	section("handover data", report.Handed{})
	fmt.Fprintf(&out, "verdicts of a statement: %s\n", strings.Join(chain.Verdicts, ", "))
	fmt.Fprintf(&out, "roles: %s\n", strings.Join(chain.Roles, ", "))
	words := []string{}
	for i := range checks.Verdicts() {
		words = append(words, checks.Verdict(i).String())
	}
	fmt.Fprintf(&out, "verdicts: %s\n", strings.Join(words, ", "))
	fmt.Fprintf(&out, "what a check stands as: %s\n", strings.Join([]string{report.StandsOpen, report.StandsStop, report.StandsAccepted, report.StandsClosed, report.StandsTakenOut}, ", "))
	rig.Golden(t, "frozen.txt", out.String())
}

// shape writes the members of a type as JSON has them, each with its sort; a type that
// writes itself by its name.
func shape(out *strings.Builder, t reflect.Type, indent string, within map[reflect.Type]bool) {
	for !writesItself(t) && (t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice) {
		t = t.Elem()
	}
	if t.Kind() == reflect.Map {
		shape(out, t.Elem(), indent+"* ", within)
		return
	}
	if t.Kind() != reflect.Struct || writesItself(t) || within[t] {
		return
	}
	within[t] = true
	defer delete(within, t)
	var lines []string
	for i := range t.NumField() {
		f := t.Field(i)
		tag, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case f.Anonymous && tag == "":
			var inner strings.Builder
			shape(&inner, f.Type, indent, within)
			lines = append(lines, inner.String())
			continue
		case !f.IsExported() || tag == "-":
			continue
		case tag == "":
			lines = append(lines, fmt.Sprintf("%s%s has no name of its own in JSON\n", indent, f.Name))
			continue
		}
		line := fmt.Sprintf("%s%s %s\n", indent, f.Tag.Get("json"), sortOf(f.Type))
		var inner strings.Builder
		shape(&inner, f.Type, indent+"  ", within)
		lines = append(lines, line+inner.String())
	}
	slices.Sort(lines)
	for _, l := range lines {
		out.WriteString(l)
	}
}

// writesItself tells whether a type has JSON of its own.
func writesItself(t reflect.Type) bool {
	return t.Implements(reflect.TypeFor[json.Marshaler]()) || t.Implements(reflect.TypeFor[encoding.TextMarshaler]())
}

// sortOf is what a type is in JSON.
func sortOf(t reflect.Type) string {
	if t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	switch {
	case t == reflect.TypeFor[time.Time]():
		return "time"
	case t == reflect.TypeFor[checks.Value]():
		return "value (see checks.Value)"
	case t == reflect.TypeFor[checks.Values]():
		return "object of " + sortOf(reflect.TypeFor[checks.Value]())
	case writesItself(t):
		return "word"
	}
	switch t.Kind() {
	case reflect.String:
		return "text"
	case reflect.Bool:
		return "yes or no"
	case reflect.Slice:
		return "list of " + sortOf(t.Elem())
	case reflect.Map:
		return "object of " + sortOf(t.Elem())
	case reflect.Struct:
		return "object"
	}
	return "number"
}
