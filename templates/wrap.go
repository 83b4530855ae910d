package templates

import "strings"

// Wrap breaks text at spaces into lines of at most width signs, and words longer than
// that anywhere. It stands in place of sprig's wrap, which counts bytes: lines with Ω,
// ° and − came out 11 to 21 signs short of 76, and words without a space ran past any
// width.
func Wrap(width int, text string) string {
	var lines []string
	rest := []rune(strings.TrimSpace(text))
	for len(rest) > width {
		cut := width
		for i := width; i > 0; i-- {
			if rest[i] == ' ' {
				cut = i
				break
			}
		}
		lines = append(lines, strings.TrimRight(string(rest[:cut]), " "))
		rest = []rune(strings.TrimLeft(string(rest[cut:]), " "))
	}
	return strings.Join(append(lines, string(rest)), "\n")
}
