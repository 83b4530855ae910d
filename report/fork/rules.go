package fork

import (
	"fmt"
	"slices"
	"strings"

	"handback/records/chain"
)

// Rule is what the entries of a join must be like, whoever made them. Hold says what is
// wrong with an entry of a line, "" for nothing; others are the other continuations that are
// at hand, without which a rule about them cannot be held.
type Rule struct {
	Name  string
	Kinds []string
	Hold  func(line []chain.Entry, e chain.Entry, others []chain.Line) string
}

// RuleListed holds an adoption to the join behind it, which is not there while it is made.
const RuleListed = "adopt-listed"

// Rules are all of them.
func Rules() []Rule {
	return []Rule{
		{"adopt-entry", []string{Adopt}, entry},
		{"adopt-twice", []string{Adopt}, twice},
		{"adopt-late", []string{Adopt}, late},
		{RuleListed, []string{Adopt}, listed},
		{"join-head", []string{Join}, head},
		{"join-entries", []string{Join}, whole},
		{"join-reason", []string{Join}, reasons},
		{"join-lost", []string{Join}, lost},
	}
}

// entry: what is adopted is an entry of another continuation.
func entry(line []chain.Entry, e chain.Entry, others []chain.Line) string {
	a, _, err := ReadAdopted(e)
	if err != nil {
		return fmt.Sprintf("an adoption that cannot be followed: %v", err)
	}
	// The join behind it names the head of the line that it comes from; without any it is
	// held against every line at hand.
	from := others
	if j, ok := joinOf(line, e); ok {
		there := upto(others, j.Head)
		if there == nil {
			return "" // the other side is not at hand
		}
		from = []chain.Line{{Entries: there}}
	}
	if upto(from, a.Hash) == nil {
		return fmt.Sprintf("it adopts entry %s, which no continuation of the job has", chain.ShortHash(a.Hash))
	}
	return ""
}

// twice: nothing counts twice, by itself and adopted, or adopted by two entries.
func twice(line []chain.Entry, e chain.Entry, _ []chain.Line) string {
	is, err := Inner(e)
	if err != nil {
		return ""
	}
	for _, before := range line[:e.Seq-1] {
		if was, err := Inner(before); err == nil && was.Hash == is.Hash {
			return fmt.Sprintf("it adopts what stands here already: entry %d", before.Seq)
		}
	}
	return ""
}

// ofPlant are the kinds of entries that change how the plant stands, and those that hang on
// it.
var (
	changesPlant = []string{"step", "undo", "found"}
	hangsOnPlant = append([]string{"read", "left"}, changesPlant...)
)

// late: what was read or done before the plant was last changed here is not put behind that
// change.
func late(line []chain.Entry, e chain.Entry, _ []chain.Line) string {
	is, err := Inner(e)
	if err != nil || !slices.Contains(hangsOnPlant, is.Kind) {
		return ""
	}
	for _, before := range slices.Backward(line[:e.Seq-1]) {
		was, err := Inner(before)
		if err == nil && slices.Contains(changesPlant, was.Kind) && was.At.After(is.At) {
			return fmt.Sprintf("entry %d changed the plant at %s, after what it adopts of %s: leave that, and take it again", before.Seq, was.At.Format("15:04:05"), is.At.Format("15:04:05"))
		}
	}
	return ""
}

// listed: an adoption belongs to the join that follows it.
func listed(line []chain.Entry, e chain.Entry, _ []chain.Line) string {
	j, ok := joinOf(line, e)
	var a Adopted
	if chain.DecodeStrict(e.Data, &a) == nil && ok &&
		slices.ContainsFunc(j.Entries, func(d Decision) bool { return d.Adopted == e.Seq && d.Hash == a.Hash }) {
		return ""
	}
	return "an adoption that no join behind it lists"
}

// joinOf is the join that follows an adoption, with what is judged again in between.
func joinOf(line []chain.Entry, e chain.Entry) (Joined, bool) {
	for _, next := range line[e.Seq:] {
		if next.Kind == Join {
			j, err := ReadJoined(next)
			return j, err == nil
		}
		if next.Kind != Adopt && next.Kind != "judge" {
			break
		}
	}
	return Joined{}, false
}

// head: a join names a continuation, and where it parts.
func head(line []chain.Entry, e chain.Entry, others []chain.Line) string {
	j, err := ReadJoined(e)
	if err != nil {
		return fmt.Sprintf("a join that cannot be read: %v", err)
	}
	if j.After < 1 || j.After >= e.Seq {
		return fmt.Sprintf("it joins what parts behind entry %d, which was not there", j.After)
	}
	if len(others) == 0 {
		return "" // the other side is not at hand
	}
	there := upto(others, j.Head)
	if there == nil {
		return fmt.Sprintf("it joins a continuation with head %s, which no continuation of the job has", chain.ShortHash(j.Head))
	}
	if after := chain.Parting(line[:e.Seq-1], there); after != j.After {
		return fmt.Sprintf("it joins what parts behind entry %d, and that parts behind entry %d", j.After, after)
	}
	return ""
}

// whole: a join decides every entry of the other side that no join before it decided, each
// once and in order, and what it says was adopted is adopted by the entry it names.
func whole(line []chain.Entry, e chain.Entry, others []chain.Line) string {
	j, err := ReadJoined(e)
	if err != nil || j.After < 1 || j.After >= e.Seq {
		return ""
	}
	if there := upto(others, j.Head); there != nil {
		want := []string{}
		for _, x := range Open(line[:e.Seq-1], there, others) {
			want = append(want, x.Hash)
		}
		is := []string{}
		for _, d := range j.Entries {
			is = append(is, d.Hash)
		}
		if !slices.Equal(want, is) {
			return fmt.Sprintf("it decides %d entries of the other side, which are not the %d that are to be decided", len(is), len(want))
		}
	}
	if len(j.Entries) == 0 || j.Entries[len(j.Entries)-1].Hash != j.Head {
		return "the newest entry that it decides is not the head that it names"
	}
	for _, d := range j.Entries {
		if d.Adopted == 0 {
			continue
		}
		var a Adopted
		if d.Adopted <= j.After || d.Adopted >= e.Seq || line[d.Adopted-1].Kind != Adopt || chain.DecodeStrict(line[d.Adopted-1].Data, &a) != nil || a.Hash != d.Hash {
			return fmt.Sprintf("it says that entry %d adopted entry %d of the other side, which it did not", d.Adopted, d.Entry)
		}
	}
	return ""
}

// Open are the entries of another line that no join of the line at hand decided yet.
func Open(line, there []chain.Entry, others []chain.Line) []chain.Entry {
	decided := Decided(line, others)
	var out []chain.Entry
	for _, x := range there[chain.Parting(line, there):] {
		if !decided[x.Hash] {
			out = append(out, x)
		}
	}
	return out
}

// reasons: who leaves an entry says why, but for what nobody has to decide.
func reasons(line []chain.Entry, e chain.Entry, others []chain.Line) string {
	j, err := ReadJoined(e)
	if err != nil || j.After < 1 || j.After >= e.Seq {
		return ""
	}
	there := upto(others, j.Head)
	for _, d := range j.Entries {
		if d.Adopted > 0 || strings.TrimSpace(d.Why) != "" {
			continue
		}
		if d.Code == "" {
			return fmt.Sprintf("entry %d of the other side was left, and it does not say why", d.Entry)
		}
		i := slices.IndexFunc(there, func(x chain.Entry) bool { return x.Hash == d.Hash })
		if i >= 0 && !settled(line[:e.Seq-1], j.After, there[i], d) {
			return fmt.Sprintf("entry %d of the other side was left as %.20q, which it is not", d.Entry, d.Code)
		}
	}
	return ""
}

// settled tells whether an entry may be left for a code.
func settled(line []chain.Entry, after int, x chain.Entry, d Decision) bool {
	switch d.Code {
	case LeftSame:
		return d.Same > 0 && Same(line, after, x) == d.Same
	case LeftTogether:
		is, err := Inner(x)
		return err == nil && numbered[is.Kind] != ""
	}
	return MayAdopt(x) == d.Code
}
