package kinds

import (
	"fmt"

	"handback/checks"
)

// What the plan lists as opened for a test has three questions: opened, remade, and who
// saw it remade. A kind that asks them has words for their codes.

func openedKey(i int) string { return fmt.Sprintf("opened_%d", i+1) }
func remadeKey(i int) string { return fmt.Sprintf("remade_%d", i+1) }

// openedFields ask for each thing opened before the test, and remade after it.
func openedFields(opened []string) []checks.Field {
	var out []checks.Field
	for i, name := range opened {
		out = append(out, checks.Field{Key: openedKey(i), Label: name + ", opened for the test", Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes"})
	}
	return out
}

func remadeFields(opened []string) []checks.Field {
	var out []checks.Field
	for i, name := range opened {
		out = append(out, checks.Field{Key: remadeKey(i), Label: name + ", remade after the test", Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes"})
	}
	if len(out) == 0 {
		return nil
	}
	return append(out, whoField("who remade them"), checks.Field{Key: "second", Label: "second person who looked at them", Sort: checks.Initials, Need: true, Example: "ben"})
}

// judgeOpened fails what was not opened for the test, and stops where something was
// not remade: a transformer energised with its neutral link open is not earthed, and
// plant without its arresters is not protected.
func judgeOpened(w *checks.Work, opened []string) {
	var open, keys []string
	for i, name := range opened {
		if key := openedKey(i); w.Has(key) {
			w.Want(checks.WordIs(key, "yes"), "opened", checks.Word("item", name), checks.Word("answer", w.Word(key)))
		}
		if key := remadeKey(i); w.Has(key) {
			if w.Want(checks.WordIs(key, "yes"), "remade", checks.Word("item", name), checks.Word("answer", w.Word(key))) == checks.Fail {
				open, keys = append(open, name), append(keys, key)
			}
		}
	}
	if w.Has("who", "second") && w.Word("who") == w.Word("second") {
		w.Want(checks.OtherWord("second", "who"), "one-person")
	}
	for i, name := range open {
		w.StopAt(keys[i:i+1], "not-remade", checks.Word("item", name))
		w.Follows(keys[i])
	}
}
