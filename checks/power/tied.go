package power

import "math"

// TieTurns says where the low-voltage terminals of a transformer stand whose terminals 1U and 2U are tied, as seen from the tie:
//
//	2V = k·(v[0]·V + v[1]·W)     2W = k·(w[0]·V + w[1]·W)
//
//	V, W    volts of the high-voltage terminals 1V and 1W against 1U, phasors, or numbers with a sign when one phase feeds
//	k       rated low over rated high voltage, both between conductors
//	v, w    factors that hang on the clock number alone
//
// The low-voltage system is the high-voltage one turned back by 30° times the clock number, its positive sequence component
// backwards and its negative one forwards. Of three quantities without a zero sequence component that is a real matrix, with
//
//	c = ⅔·cos θ, ⅔·cos(θ − 120°), ⅔·cos(θ + 120°)     θ = 30°·clock
//	v = c0 − c1, c1 − c2     w = c2 − c1, c0 − c2
//
// so it holds for any three volts of the supply, balanced or not, and for a supply of one phase between any two terminals, and
// the windings' own zero sequence component falls out between terminals. Where crossed says that two low-voltage terminals
// are exchanged, 2V and 2W change places. It supposes ideal windings: no load, and each winding's volts those of its limb.
func TieTurns(clock int, crossed bool) (v, w [2]float64) {
	c := func(deg float64) float64 { return 2.0 / 3 * math.Cos((30*float64(clock)+deg)*math.Pi/180) }
	c0, c1, c2 := c(0), c(-120), c(120)
	v, w = [2]float64{c0 - c1, c1 - c2}, [2]float64{c2 - c1, c0 - c2}
	if crossed {
		return w, v
	}
	return v, w
}
