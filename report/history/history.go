// Package history keeps what each check of a job came to, as it came, so that a view of all
// of them at any moment costs nothing: each judgement is given such a view, and a job has
// thousands.
//
//	log    counts what the checks of a job came to, one after another
//	past   what one check came to, each time with its count
//	order  the checks of one version of the plan
//	view   what the checks above one had come to at one count
package history

import (
	"iter"
	"slices"

	"handback/checks"
)

// Log counts what the checks of a job came to.
type Log struct{ count int }

// Past is what a check came to, oldest first. The zero Past is that of one never taken.
type Past struct{ came []came }

type came struct {
	count int
	past  checks.Past
}

// Add says what a check came to, or what its answers are since.
func (p *Past) Add(l *Log, is checks.Past) {
	l.count++
	p.came = append(p.came, came{l.count, is})
}

// at is what the check had come to at a count.
func (p *Past) at(count int) checks.Past {
	for _, c := range slices.Backward(p.came) {
		if c.count <= count {
			return c.past
		}
	}
	return checks.Past{}
}

// Order is the checks of a version of the plan, in its order.
type Order struct {
	places map[string]int
	pasts  []*Past
}

// Put adds a check behind the others.
func (o *Order) Put(id string, p *Past) {
	if o.places == nil {
		o.places = map[string]int{}
	}
	o.places[id] = len(o.pasts)
	o.pasts = append(o.pasts, p)
}

// Place is where a check stands in the order; ok is false for one that is not in it.
func (o *Order) Place(id string) (at int, ok bool) {
	at, ok = o.places[id]
	return at, ok
}

// Above is what the checks above one have come to by now; all of them for a check that is
// not in the order.
func (o *Order) Above(id string, l *Log) checks.Earlier {
	below, ok := o.places[id]
	if !ok {
		below = len(o.pasts)
	}
	return view{o, below, l.count}
}

type view struct {
	order *Order
	below int
	count int
}

// Of is what a check above had come to.
func (v view) Of(check string) checks.Past {
	if at, ok := v.order.places[check]; ok && at < v.below {
		return v.order.pasts[at].at(v.count)
	}
	return checks.Past{}
}

// All goes through those that were taken.
func (v view) All() iter.Seq2[string, checks.Past] {
	return func(yield func(string, checks.Past) bool) {
		for id, at := range v.order.places {
			if at >= v.below {
				continue
			}
			if p := v.order.pasts[at].at(v.count); p.Taken() && !yield(id, p) {
				return
			}
		}
	}
}
