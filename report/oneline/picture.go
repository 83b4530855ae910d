package oneline

import "handback/checks/network"

// Look is how a line is drawn, so that a state is read without colour.
type Look string

// The looks.
const (
	Thick  Look = "thick"  // a bar that a source reaches
	Thin   Look = "thin"   // a bar that none reaches, unknown positions taken as closed
	Dashed Look = "dashed" // a bar or device of which it is not known

	Whole Look = "whole" // a device that carries, an earth that is on
	Gap   Look = "gap"   // one that is open
	Away  Look = "away"  // one that is in the test position or withdrawn
)

// Said is what stands beside a bar or link, and how it is drawn.
type Said struct {
	Name, State string
	Look        Look
}

// Picture is a diagram with the state of the plant.
type Picture struct {
	Diagram
	OfBars, OfLinks []Said // in their order
}

// Words are what a picture says, by name.
type Words struct {
	Named  func(id string) string
	Node   func(network.NodeView) string
	Device func(network.Device, network.Standing) string
}

// Draw lays a network out with its state.
func Draw(n network.Network, v network.View, s network.State, w Words) Picture {
	p := Picture{Diagram: Of(n)}
	for _, b := range p.Bars {
		x := v.Node(b.Node)
		look := Thin
		switch {
		case len(x.Live) > 0:
			look = Thick
		case len(x.MayLive) > 0:
			look = Dashed
		}
		p.OfBars = append(p.OfBars, Said{w.Named(b.Node), w.Node(x), look})
	}
	for i, k := range p.Links {
		p.OfLinks = append(p.OfLinks, Said{w.Named(k.Device), w.Device(n.Devices[i], s[k.Device]), lookOf(k.Kind, s[k.Device])})
	}
	return p
}

func lookOf(kind network.Kind, s network.Standing) Look {
	switch {
	case kind == network.Transformer:
		return Whole
	case s.Place == network.Withdrawn, s.Place == network.Test:
		return Away
	case s.Pos == network.Open:
		return Gap
	case s.Pos == network.Closed && s.Place == network.Service:
		return Whole
	}
	return Dashed
}
