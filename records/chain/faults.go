package chain

import "fmt"

// MaxFaults is how many faults of one bag or workbook are told. Who makes one to
// mislead can put a million into it, and nobody reads more than the first.
const MaxFaults = 100

// Faults gathers what is wrong, each thing once and no more than MaxFaults. The zero
// value is ready for use.
type Faults struct {
	told []string
	seen map[string]bool
	more int
}

// Add tells one fault.
func (f *Faults) Add(what string) {
	switch {
	case f.seen[what]:
	case len(f.told) == MaxFaults:
		f.more++
	default:
		if f.seen == nil {
			f.seen = map[string]bool{}
		}
		f.seen[what] = true
		f.told = append(f.told, what)
	}
}

// Full says that no further fault would be told.
func (f *Faults) Full() bool { return len(f.told) == MaxFaults }

// List gives the faults in the order they were found; the last says how many more
// there were.
func (f *Faults) List() []string {
	if f.more == 0 {
		return f.told
	}
	return append(f.told[:MaxFaults:MaxFaults], fmt.Sprintf("and %d more", f.more))
}
