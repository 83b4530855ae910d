package plan

import (
	"fmt"
	"slices"
	"strings"
)

// Nearest suggests the closest accepted word, or lists them all. Two letters may be
// wrong in a word of five or more, one in a shorter one: half a word is no slip.
func Nearest(word string, accepted []string) string {
	accepted = slices.DeleteFunc(slices.Clone(accepted), func(a string) bool { return a == "" })
	best, bestAt := "", 3
	for _, a := range accepted {
		d := distance(word, a)
		if long := max(len(word), len(a)); d < bestAt && d < long && (d < 2 || long > 4) {
			best, bestAt = a, d
		}
	}
	if best != "" {
		return fmt.Sprintf(": did you mean %s?", best)
	}
	if len(accepted) == 0 {
		return ": there is none to name"
	}
	return ": accepted here are " + strings.Join(accepted, ", ")
}

// distance is the number of one-letter edits between two words.
func distance(a, b string) int {
	prev := make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := range len(a) {
		row := make([]int, len(b)+1)
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			row[j+1] = min(prev[j+1]+1, row[j]+1, prev[j]+cost)
		}
		prev = row
	}
	return prev[len(b)]
}
