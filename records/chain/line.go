package chain

// Line is one continuation of a job: its entries from the first on. Two that go on with
// one job have the same entries up to where they part.
type Line struct {
	ID      string // in a record book, "" where it has none
	Entries []Entry
}

// MaxLines is how many continuations of one job go into a bag or a carrier, and are read from
// one (our choice: more people than work on one plant at once).
const MaxLines = 20

// Head is the newest entry of the line.
func (l Line) Head() Entry { return l.Entries[len(l.Entries)-1] }

// Parting is how many entries, from the first on, two lines have in common.
func Parting(a, b []Entry) int {
	n := 0
	for n < min(len(a), len(b)) && a[n].Hash == b[n].Hash {
		n++
	}
	return n
}

// After is the chain that goes on behind an entry.
func After(e Entry) Chain { return Chain{e.Job, e.Seq, e.Hash} }
