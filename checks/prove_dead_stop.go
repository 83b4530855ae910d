package checks

// liveAtOnce names the points that are live as soon as they are read: who has found
// one goes no further.
func liveAtOnce(in Input) []string {
	w := workOn(in)
	_, at := w.livePoints(in.Check.Given.(*proveDead))
	return at
}
