package checks

import "strings"

// liveAtOnce names the points that are live as soon as they are read: who has found
// one goes no further.
func liveAtOnce(in Input) string {
	w := workOn(in)
	live, _ := w.livePoints(in.Check.Given.(*proveDead))
	return strings.Join(live, ", ")
}
