package checks

import "maps"

// With is in with more answers. A reading belongs to the instrument it was taken
// with: where another instrument is named, the readings that were taken with the one
// before are gone and must be taken again.
func (in Input) With(got Answers) Input {
	out := Answers{}
	maps.Copy(out, in.Answers)
	for _, f := range in.Form() {
		was, had := in.Answers[f.Meter]
		is, named := got[f.Meter]
		if f.Meter != "" && had && named && was.Word != is.Word {
			delete(out, f.Key)
		}
	}
	maps.Copy(out, got)
	in.Answers = out
	return in
}
