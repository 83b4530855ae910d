package checks

import "slices"

// The keys of the currents of the three conductors of one place, after its own.
var ampKeys = [3]string{"_i1", "_i2", "_i3"}

const (
	// nothingShare is the part of what its rating would give, or of its largest
	// phase, under which a conductor carries nothing (our choice).
	nothingShare = 0.05

	// loneShare is the part of what the other conductors of a place carry, each held
	// against its own prediction, under which one is doubted (our choice).
	loneShare = 1.0 / 3

	// noLoadShare is the part of the rated current under which a load shows nothing
	// of how it is shared or of what it heats (our choice).
	noLoadShare = 0.03
)

// doubtFlow names currents of one place that cannot be right: below zero, or read
// where an incomer is said to be open.
func doubtFlow(in Input, key, incomer string) []Doubt {
	var out []Doubt
	most := 0.0
	for _, k := range ampKeys {
		a := in.Answers[key+k]
		if a.Value < 0 {
			out = append(out, Doubt{[]string{key + k}, Say("signed-current", Num("read", a.Value, "A"))})
		}
		most = max(most, a.Value)
	}
	if closed := key + "_closed"; incomer != "" && in.Answers[closed].Word == "no" && most > 0 {
		out = append(out, Doubt{append([]string{closed}, withPrefix(key, ampKeys)...), Say("open-but-carries", Word("incomer", incomer), Num("read", most, "A"))})
	}
	return out
}

// doubtLonePhase names a conductor of a place that carries next to nothing beside
// its others: under the share of the largest, each as a part of what is expected
// of it. Where all three carry nothing, none does.
func doubtLonePhase(in Input, key string, place Said, expected [3]float64, share float64) []Doubt {
	amps, ok := in.three(key, ampKeys)
	if !ok || slices.Min(expected[:]) <= 0 {
		return nil
	}
	var parts [3]float64
	for k := range parts {
		parts[k] = amps[k] / expected[k]
	}
	lines, _ := in.Plan.Conductors()
	most := slices.Max(parts[:])
	at := slices.Index(parts[:], most)
	if at < 0 {
		return nil // not a number
	}
	var out []Doubt
	for k, x := range parts {
		if x >= 0 && x < share*most {
			out = append(out, Doubt{[]string{key + ampKeys[k]}, Say("conductor-carries-little", Inner("place", place), Word("conductor", lines[k]),
				Num("read", amps[k], "A"), Num("beside", amps[at], "A"))})
		}
	}
	return out
}

// What carries a current, as the words place it.
func atTransformer(id string) Said { return Say("at-transformer", Word("id", id)) }
func atCoupler() Said              { return Say("at-coupler") }
func atSection(name string) Said   { return Say("at-section", Word("name", name)) }

// alike expects as much of each conductor.
var alike = [3]float64{1, 1, 1}
