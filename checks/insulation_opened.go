package checks

import "fmt"

// What the plan lists as opened for the test has three questions: opened, remade,
// and who saw it remade.

func openedKey(i int) string { return fmt.Sprintf("opened_%d", i+1) }
func remadeKey(i int) string { return fmt.Sprintf("remade_%d", i+1) }

// openedFields ask for each thing opened before the test, and remade after it.
func (g *insulation) openedFields() []Field {
	var out []Field
	for i, name := range g.Opened {
		out = append(out, Field{Key: openedKey(i), Label: name + ", opened for the test", Sort: Choice, Options: YesNo, Need: true, Example: "yes"})
	}
	return out
}

func (g *insulation) remadeFields() []Field {
	var out []Field
	for i, name := range g.Opened {
		out = append(out, Field{Key: remadeKey(i), Label: name + ", remade after the test", Sort: Choice, Options: YesNo, Need: true, Example: "yes"})
	}
	if len(out) == 0 {
		return nil
	}
	return append(out, whoField("who remade them"), Field{Key: "second", Label: "second person who looked at them", Sort: Initials, Need: true, Example: "ben"})
}

// judgeOpened fails what was not opened for the test, and stops where something was
// not remade: a transformer energised with its neutral link open is not earthed.
func (w *Work) judgeOpened(g *insulation) {
	var open, keys []string
	for i, name := range g.Opened {
		if key := openedKey(i); w.Has(key) {
			w.Want(wordIs(key, "yes"), "opened", Word("item", name), Word("answer", w.Word(key)))
		}
		if key := remadeKey(i); w.Has(key) {
			if w.Want(wordIs(key, "yes"), "remade", Word("item", name), Word("answer", w.Word(key))) == Fail {
				open, keys = append(open, name), append(keys, key)
			}
		}
	}
	if w.Has("who", "second") && w.Word("who") == w.Word("second") {
		w.Want(otherWord("second", "who"), "one-person")
	}
	for i, name := range open {
		w.StopAt(keys[i:i+1], "not-remade", Word("item", name))
		w.follows(keys[i])
	}
}
