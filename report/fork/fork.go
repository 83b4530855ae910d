// Package fork tells two continuations of one job apart, and what joining them decided.
//
// A line is one continuation of a job: its entries from the first on. Two lines part behind
// the last entry that both have. A fork is another line as seen from the one at hand; it is
// open until a join decided every entry of it, one by one: adopted, by an entry that holds
// the bytes of that of the other line, or left. The join stands in the line that goes on;
// the other is superseded by it. What came to the other line later opens the fork again.
package fork

import (
	"cmp"
	"slices"
	"time"

	"handback/records/chain"
)

// Kinds of entries that belong to a join.
const (
	Adopt = "adopt" // an entry of another continuation was adopted
	Join  = "join"  // what became of every entry of another continuation
)

// Fork is another continuation of a job that is not joined, as seen from the one at hand.
type Fork struct {
	ID         string    `json:"-"`                    // in the record book at hand
	After      int       `json:"after"`                // the last entry that both have
	Here       int       `json:"here"`                 // entries since on this side
	There      int       `json:"there"`                // and on the other
	Undecided  int       `json:"undecided"`            // of those there: what no join decided
	Head       string    `json:"head"`                 // hash of the newest there
	By         []string  `json:"by"`                   // who made those there, ids of the plan
	Until      time.Time `json:"until"`                // when the newest there was made
	Superseded int       `json:"superseded,omitempty"` // the entry there that joined all of this side
}

// Of are the forks that the line at hand has with others, those that it has joined left out,
// in an order that does not hang on the record book.
func Of(here []chain.Entry, others []chain.Line) []Fork {
	var out []Fork
	decided := Decided(here, others)
	for _, l := range others {
		after := chain.Parting(here, l.Entries)
		f := Fork{ID: l.ID, After: after, Here: len(here) - after, There: len(l.Entries) - after, Head: l.Head().Hash, Until: l.Head().At}
		for _, e := range l.Entries[after:] {
			if !decided[e.Hash] {
				f.Undecided++
			}
			if !slices.Contains(f.By, e.By) {
				f.By = append(f.By, e.By)
			}
		}
		if f.Undecided == 0 {
			continue
		}
		f.Superseded = superseded(here, after, l, others)
		out = append(out, f)
	}
	out = unsettled(out, here, others)
	slices.SortFunc(out, func(a, b Fork) int { return cmp.Or(a.After-b.After, cmp.Compare(a.Head, b.Head)) })
	return out
}

// unsettled leaves out of the forks of a line those that another, which joined all of that
// line, has joined or holds too: there is nothing to decide about them here.
func unsettled(forks []Fork, here []chain.Entry, others []chain.Line) []Fork {
	all := append(slices.Clone(others), chain.Line{Entries: here})
	settled := func(f, by Fork) bool {
		line := upto(others, by.Head)
		decided := Decided(line, all)
		return !slices.ContainsFunc(upto(others, f.Head)[f.After:], func(e chain.Entry) bool {
			held := e.Seq <= len(line) && line[e.Seq-1].Hash == e.Hash
			return !held && !decided[e.Hash]
		})
	}
	return slices.DeleteFunc(slices.Clone(forks), func(f Fork) bool {
		return slices.ContainsFunc(forks, func(by Fork) bool { return by.Superseded > 0 && by.Head != f.Head && settled(f, by) })
	})
}

// superseded is the entry of another line behind which all of the line at hand is decided
// there, 0 while something of it is not.
func superseded(here []chain.Entry, after int, l chain.Line, others []chain.Line) int {
	if len(here) == after {
		return 0
	}
	decided := Decided(l.Entries, append(slices.Clone(others), chain.Line{Entries: here}))
	for _, e := range here[after:] {
		if !decided[e.Hash] {
			return 0
		}
	}
	for _, e := range slices.Backward(l.Entries) {
		if e.Kind == Join {
			return e.Seq
		}
	}
	return 0
}

// Decided are the entries, by hash, that the joins of a line decided, and those that joins
// had decided in a line it joined.
func Decided(line []chain.Entry, others []chain.Line) map[string]bool {
	out := map[string]bool{}
	decide(line, others, out)
	return out
}

func decide(line []chain.Entry, others []chain.Line, out map[string]bool) {
	for _, e := range line {
		if e.Kind != Join {
			continue
		}
		j, err := ReadJoined(e)
		if err != nil || out[j.Head] {
			continue
		}
		for _, d := range j.Entries {
			out[d.Hash] = true
		}
		if there := upto(others, j.Head); there != nil {
			decide(there, others, out)
		}
	}
}

// upto is the line that an entry stands in, up to that entry, nil where none is at hand.
func upto(lines []chain.Line, hash string) []chain.Entry {
	for _, l := range lines {
		for i, e := range l.Entries {
			if e.Hash == hash {
				return l.Entries[:i+1]
			}
		}
	}
	return nil
}

// Missing are the joins of a line whose other side is not at hand, by their entries.
func Missing(line []chain.Entry, others []chain.Line) []int {
	var out []int
	for _, e := range line {
		if j, err := ReadJoined(e); e.Kind == Join && (err != nil || upto(others, j.Head) == nil) {
			out = append(out, e.Seq)
		}
	}
	return out
}
