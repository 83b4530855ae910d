package session

import "testing"

// What a hint prints can be typed: in the shells of Windows a backslash is no reason
// to quote, and single quotation marks are none.
func TestWindowsWord(t *testing.T) {
	for word, want := range map[string]string{`C:\jobs\t2.zip`: `C:\jobs\t2.zip`, `a b\t2.zip`: `"a b\t2.zip"`, "": `""`, "t2&x.zip": `"t2&x.zip"`} {
		if got := windowsWord(word); got != want {
			t.Errorf("%s: %s, want %s", word, got, want)
		}
	}
}
