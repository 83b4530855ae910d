package plan

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// emptyReasons are words that answer a question for a reason without giving one.
var emptyReasons = []string{"ok", "okay", "yes", "no", "fine", "good", "done", "none", "nothing", "because", "reason", "why", "words",
	"test", "testing", "see above", "same", "as before", "not applicable", "unknown", "whatever", "todo", "replace",
	"accept", "accepted", "concede", "conceded", "keep", "kept", "repeat", "repeated", "skip", "skipped", "correct", "corrected", "past hold"}

// Reasoned refuses a reason that says nothing: fewer than four letters, fewer than
// three different ones, or no more than a word of the command it was asked by.
// Any script's letters count; what the reason is worth is for its reader.
func Reasoned(text string) error {
	letters, seen := 0, map[rune]bool{}
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for _, r := range strings.Join(words, "") {
		if unicode.IsLetter(r) {
			letters++
			seen[r] = true
		}
	}
	if letters < 4 || len(seen) < 3 || slices.Contains(emptyReasons, strings.Join(words, " ")) {
		return fmt.Errorf("%q gives no reason: say in words what was seen or decided", strings.TrimSpace(text))
	}
	return nil
}
