package checks

import (
	"fmt"
	"slices"
)

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
// where the breaker is said to be open. closed is the field of its state, "" for none.
func doubtFlow(in Input, key, name, closed string) []Doubt {
	var out []Doubt
	most := 0.0
	for _, k := range ampKeys {
		a := in.Answers[key+k]
		if a.Value < 0 {
			out = append(out, Doubt{Fields: []string{key + k}, Said: plain(fmt.Sprintf("%s A: alternating current is not below zero; a direction is asked by itself", significant(a.Value, 5)))})
		}
		most = max(most, a.Value)
	}
	if closed != "" && in.Answers[closed].Word == "no" && most > 0 {
		out = append(out, Doubt{Fields: append([]string{closed}, withPrefix(key, ampKeys)...), Said: plain(fmt.Sprintf("%s is said to be open but reads %s A", name, significant(most, 5)))})
	}
	return out
}

// doubtLonePhase names a conductor of a place that carries next to nothing beside
// its others: under the share of the largest, each as a part of what is expected
// of it. Where all three carry nothing, none does.
func doubtLonePhase(in Input, key, name string, expected [3]float64, share float64) []Doubt {
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
			out = append(out, Doubt{Fields: []string{key + ampKeys[k]}, Said: plain(fmt.Sprintf("%s carries %s on %s beside %s: look at the pole and the fuse of %s, and at how the clamp sat",
				name, spell(amps[k], "A"), lines[k], spell(amps[at], "A"), lines[k]))})
		}
	}
	return out
}

// alike expects as much of each conductor.
var alike = [3]float64{1, 1, 1}
