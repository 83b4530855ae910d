package plan

import "testing"

// The bounds are our choice: what nobody could act upon is no reason.
func TestReasoned(t *testing.T) {
	for _, text := range []string{"", "   ", "...", "x", "ok", "OK.", "n/a", "- - -", "aaaa", "abab abab", "accept", "Conceded!", "keep", "why", "123456", "1.5 %"} {
		if Reasoned(text) == nil {
			t.Errorf("%q is taken as a reason", text)
		}
	}
	for _, text := range []string{"misread", "fuse", "wrong range chosen", "digits swapped on the sheet", "avlest feil", "संपर्क ढीला था", "Zähler klemmt", "0.6 % accepted until the spare is fitted"} {
		if err := Reasoned(text); err != nil {
			t.Errorf("%q: %v", text, err)
		}
	}
}
