package kinds

import "handback/checks"

// liveAtOnce names the points that are live as soon as they are read: who has found
// one goes no further.
func liveAtOnce(in checks.Input, g *proveDead) []string {
	w := checks.NewWork(in)
	_, at := livePoints(w, g)
	return at
}
