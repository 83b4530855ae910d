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
			w.plainWant(wordIs(key, "yes"), "%s opened for the test: %s", name, w.Word(key))
		}
		if key := remadeKey(i); w.Has(key) {
			if w.plainWant(wordIs(key, "yes"), "%s remade after the test: %s", name, w.Word(key)) == Fail {
				open, keys = append(open, name), append(keys, key)
			}
		}
	}
	if w.Has("who", "second") && w.Word("who") == w.Word("second") {
		w.plainWant(otherWord("second", "who"), "the second person is the first: two people must look")
	}
	for i, name := range open {
		w.plainStopAt(keys[i:i+1], "%s was not remade after the test: do not make the plant live", name)
		w.follows(keys[i])
	}
}
