// Package oneline lays out the network of a plan as a one-line diagram: where its bars
// and what joins them stand on a grid. Who draws it brings the words.
//
// Its words:
//
//	bar     a node, drawn as a line across one or more columns
//	link    a device: it hangs between a bar and one a level below, between two bars of
//	        one level, or from a bar to earth
//	level   how many devices lie between a bar and the nearest supply; a bar no supply can
//	        reach stands at the top
//	column  counted from 0, left to right
package oneline

import (
	"slices"

	"handback/checks/network"
)

// Diagram is a network on a grid.
type Diagram struct {
	Levels, Columns int
	Bars            []Bar  // in the order of the network
	Links           []Link // in the order of the network
}

// Bar is a node across the columns from Left to Right.
type Bar struct {
	Node        string
	Level       int
	Left, Right int
}

// Link is a device in a column below the level of its upper end, or of its left one.
type Link struct {
	Device string
	Kind   network.Kind
	Upper  int // index of a bar; the left end of a link between bars of one level
	Lower  int // index of a bar, -1 for earth
	Column int
	Beside bool // both ends are on one level
	Next   bool // both ends are on one level, with nothing between them but its column
}

// layout is a diagram in the making.
type layout struct {
	net   network.Network
	at    map[string]int // index of each node
	out   Diagram
	below [][]int // links under each bar, tree links and earths, in order
	above []int   // how many links come into each bar from above
	seat  []int   // which of them each link is
}

// Of lays a network out.
func Of(n network.Network) Diagram {
	l := &layout{net: n, at: map[string]int{}, below: make([][]int, len(n.Nodes)), above: make([]int, len(n.Nodes)), seat: make([]int, len(n.Devices))}
	for i, x := range n.Nodes {
		l.at[x.ID] = i
		l.out.Bars = append(l.out.Bars, Bar{Node: x.ID, Level: -1})
	}
	roots := l.levels()
	tree := l.links()
	for _, r := range roots {
		l.out.Columns = l.seatUnder(r, l.out.Columns, tree)
	}
	for i := range l.out.Links {
		k := &l.out.Links[i]
		if !k.Beside && k.Lower >= 0 {
			k.Column = l.out.Bars[k.Lower].Left + l.seat[i]
		}
	}
	for i := range l.out.Links {
		if l.out.Links[i].Beside {
			l.beside(&l.out.Links[i])
		}
	}
	return l.out
}

// levels counts devices from the supplies, a machine's own terminals among them, and
// gives the bars that stand at the top.
func (l *layout) levels() (roots []int) {
	var queue []int
	put := func(i, level int) {
		if l.out.Bars[i].Level < 0 {
			l.out.Bars[i].Level = level
			l.out.Levels = max(l.out.Levels, level+1)
			queue = append(queue, i)
		}
	}
	for _, s := range l.net.Sources {
		if s.Kind != network.Capacitor && l.out.Bars[l.at[s.At]].Level < 0 {
			put(l.at[s.At], 0)
			roots = append(roots, l.at[s.At])
		}
	}
	spread := func() {
		for ; len(queue) > 0; queue = queue[1:] {
			for _, d := range l.net.Devices {
				if a, b, ok := l.ends(d); ok && (a == queue[0] || b == queue[0]) {
					put(a+b-queue[0], l.out.Bars[queue[0]].Level+1)
				}
			}
		}
	}
	spread()
	for i := range l.out.Bars {
		if l.out.Bars[i].Level < 0 {
			put(i, 0)
			roots = append(roots, i)
			spread()
		}
	}
	return roots
}

func (l *layout) ends(d network.Device) (a, b int, ok bool) {
	if len(d.Between) != 2 {
		return 0, 0, false
	}
	return l.at[d.Between[0]], l.at[d.Between[1]], true
}

// links hangs each device between its bars, and tells which of those links carry the
// bar below them: the first that reaches it.
func (l *layout) links() (tree map[int]bool) {
	tree = map[int]bool{}
	for i, d := range l.net.Devices {
		a, b, two := l.ends(d)
		if !two {
			a, b = l.at[d.Between[0]], -1
		} else if l.out.Bars[a].Level > l.out.Bars[b].Level {
			a, b = b, a
		}
		k := Link{Device: d.ID, Kind: d.Kind, Upper: a, Lower: b, Beside: two && l.out.Bars[a].Level == l.out.Bars[b].Level}
		if !k.Beside {
			l.below[a] = append(l.below[a], i)
		}
		if two && !k.Beside {
			tree[i] = l.above[b] == 0
			l.seat[i] = l.above[b]
			l.above[b]++
		}
		l.out.Links = append(l.out.Links, k)
	}
	return tree
}

// seatUnder gives a bar and all that hangs from it columns from one on, and tells the
// next free one.
func (l *layout) seatUnder(bar, from int, tree map[int]bool) int {
	next := from
	for _, i := range l.below[bar] {
		k := &l.out.Links[i]
		switch {
		case k.Lower < 0:
			k.Column = next
			next++
		case tree[i]:
			next = l.seatUnder(k.Lower, next, tree)
		}
	}
	next = max(next, from+max(1, l.above[bar]))
	l.out.Bars[bar].Left, l.out.Bars[bar].Right = from, next-1
	return next
}

// beside puts a link between two bars of one level into a column of its own where they
// are neighbours; otherwise it runs below them, from the left one's last column.
func (l *layout) beside(k *Link) {
	if l.out.Bars[k.Upper].Left > l.out.Bars[k.Lower].Left {
		k.Upper, k.Lower = k.Lower, k.Upper
	}
	a, b := l.out.Bars[k.Upper], l.out.Bars[k.Lower]
	k.Next = !slices.ContainsFunc(l.out.Bars, func(x Bar) bool { return x.Level == a.Level && x.Left > a.Right && x.Right < b.Left }) &&
		!slices.ContainsFunc(l.out.Links, func(x Link) bool { return x.Next && x.Upper == k.Upper && x.Lower == k.Lower })
	k.Column = a.Right
	if k.Next {
		k.Column = a.Right + 1
		l.insert(k, a.Right+1)
	}
}

// insert makes room for a column: what stands right of it moves on, what spans it grows.
func (l *layout) insert(of *Link, column int) {
	l.out.Columns++
	for i := range l.out.Bars {
		b := &l.out.Bars[i]
		if b.Left >= column {
			b.Left++
		}
		if b.Right >= column {
			b.Right++
		}
	}
	for i := range l.out.Links {
		if k := &l.out.Links[i]; k != of && k.Column >= column {
			k.Column++
		}
	}
}
