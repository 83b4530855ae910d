package cmd

import (
	"fmt"
	"strings"
	"testing"

	"handback/cmd/session"
	"handback/records"
	"handback/templates"
)

// Every code that an error may have stands in the topic that scripts are written by.
func TestFailure_codesTold(t *testing.T) {
	topic, err := templates.Topic("json")
	if err != nil {
		t.Fatal(err)
	}
	all := []string{"usage", "plan", "moved", "failed", session.CodeNoSuch, session.CodeDone, session.CodeOrder, session.CodeHold, session.CodeRule,
		session.CodeWrongPerson, session.CodeNoKey, session.CodeWrongKey, session.CodeDoubt, session.CodeRefused}
	for _, c := range codes {
		all = append(all, c.code)
	}
	for _, code := range all {
		if !strings.Contains(string(topic), "`"+code+"`") {
			t.Errorf("help json does not tell of the code %s", code)
		}
	}
}

// The code is that of the cause, however deep it lies, and that of what a command says of it
// comes before.
func TestFailure_codes(t *testing.T) {
	deep := fmt.Errorf("look: %w", fmt.Errorf("book.db: %w: wait", records.ErrBusy))
	for want, err := range map[string]error{
		"busy":             deep,
		"interrupted":      session.ErrInterrupted,
		"usage":            session.Usagef("no"),
		"failed":           fmt.Errorf("no"),
		"moved":            &records.MovedError{Job: "pump-1"},
		session.CodeNoKey:  session.Apart(deep, session.Parts{Code: session.CodeNoKey}),
		"not-all-compared": fmt.Errorf("bag: %w", session.ErrPartly),
	} {
		if got := failureOf(&session.Env{}, err).Error.Code; got != want {
			t.Errorf("%v has the code %q, want %q", err, got, want)
		}
	}
}
