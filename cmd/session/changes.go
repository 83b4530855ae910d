package session

import (
	"fmt"
	"io"
	"strings"

	"handback/checks"
)

// printChanges tells how values changed from the plan's baseline, but for a change that
// was told because it did not pass; wrapped at a width, 0 leaves each on one line.
func printChanges(w io.Writer, f checks.Finding, width int) {
	for _, d := range f.Changes() {
		if d.Limit != nil && d.Verdict != checks.Pass {
			continue
		}
		text := "~ " + d.ChangeText()
		if width > 0 {
			text = strings.TrimPrefix(Wrapped(text, "  ", width), "  ")
		}
		fmt.Fprintf(w, "  %s\n", text)
	}
}
