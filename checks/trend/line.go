package trend

import (
	"math"
	"slices"
)

// line is y = at + slope·(t − mid), fitted to values by least squares.
type line struct {
	mid, at, slope float64
	weighted       bool    // by 1/u², for every u is known
	chi2           float64 // Σ w·(y − line)², with w = 1 where not weighted
	n              int
	errors         []lineError
}

// lineError is what the line errs by when its values err in one way: the covariances of
// at and slope, with the factor that makes a standard uncertainty an expanded one.
type lineError struct {
	k                     float64
	varAt, both, varSlope float64
}

// fitLine fits a line to values at times t, in years. With w = 1/u² where every u is known,
// else 1,
//
//	mid = Σwt/Σw   at = Σwy/Σw   slope = Σw(t−mid)(y−at)/Σw(t−mid)²
//
// What the line errs by is worked out in up to three ways, and the worst counts everywhere
// (our choice, as for the errors of a range in calc):
//
//	scatter     the values err by what they lie off the line: s² = Σw(y−line)²/(n−2),
//	            with Student's factor for n−2 degrees of freedom; from three values on
//	apart       each value errs by its own u and knows nothing of the others; factor 2
//	together    the values of one instrument err all by their u the same way, which is
//	            the error of its calibration, and instruments err apart; factor 2
//
// The last two need every u. Values of an instrument that is not known err apart.
// Formulas: JCGM 100:2008, H.3.3, with weights as ISO 6143:2001 has them (from memory).
func fitLine(t, y, u []float64, serials []string) line {
	l := line{n: len(t), weighted: !slices.ContainsFunc(u, func(x float64) bool { return !(x > 0) || math.IsInf(x, 0) })}
	w := make([]float64, len(t))
	sum := 0.0
	for i := range t {
		if w[i] = 1; l.weighted {
			w[i] = 1 / float64(u[i]*u[i])
		}
		sum += w[i]
		l.mid += float64(w[i] * t[i])
		l.at += float64(w[i] * y[i])
	}
	l.mid, l.at = l.mid/sum, l.at/sum
	spread := 0.0
	for i := range t {
		from := t[i] - l.mid
		spread += float64(w[i] * from * from)
		l.slope += float64(w[i] * from * (y[i] - l.at))
	}
	l.slope /= spread
	for i := range t {
		off := y[i] - l.value(t[i])
		l.chi2 += float64(w[i] * off * off)
	}
	if l.n > 2 {
		s2 := l.chi2 / float64(l.n-2)
		l.errors = append(l.errors, lineError{studentFactor(l.n - 2), s2 / sum, 0, s2 / spread})
	}
	if l.weighted {
		l.errors = append(l.errors, lineError{2, 1 / sum, 0, 1 / spread}, together(t, u, w, serials, l.mid, sum, spread))
	}
	return l
}

// together are the covariances when the values of one instrument all err the same way.
func together(t, u, w []float64, serials []string, mid, sum, spread float64) lineError {
	e := lineError{k: 2}
	add := func(at, slope float64) {
		e.varAt += float64(at * at)
		e.both += float64(at * slope)
		e.varSlope += float64(slope * slope)
	}
	at, slope := map[string]float64{}, map[string]float64{}
	var order []string // so that sums come out the same each time
	for i := range t {
		a, b := w[i]*u[i]/sum, w[i]*u[i]*(t[i]-mid)/spread
		if serials[i] == "" {
			add(a, b)
			continue
		}
		if _, seen := at[serials[i]]; !seen {
			order = append(order, serials[i])
		}
		at[serials[i]] += a
		slope[serials[i]] += b
	}
	for _, s := range order {
		add(at[s], slope[s])
	}
	return e
}

// value is that of the line at a time.
func (l line) value(t float64) float64 { return l.at + float64(l.slope*(t-l.mid)) }

// off is the expanded uncertainty of the line at a time; NaN where nothing tells it.
func (l line) off(t float64) float64 {
	return l.worst(func(e lineError) float64 {
		from := t - l.mid
		return e.varAt + float64(2*from*e.both) + float64(from*from*e.varSlope)
	})
}

// slopeOff is the expanded uncertainty of the slope; NaN where nothing tells it.
func (l line) slopeOff() float64 { return l.worst(func(e lineError) float64 { return e.varSlope }) }

func (l line) worst(variance func(lineError) float64) float64 {
	most := math.NaN()
	for _, e := range l.errors {
		most = math.Max(orLess(most), e.k*math.Sqrt(math.Max(variance(e), 0)))
	}
	return most
}

// orLess is x, or less than everything where it is no number.
func orLess(x float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(-1)
	}
	return x
}

// meets is when the line comes to a limit, in years, and the interval that time lies in:
// all times at which the limit lies within the uncertainty of the line (E. C. Fieller,
// Some problems in interval estimation, J. R. Stat. Soc. B 16 (1954), 175 to 185). With
// τ = t − mid and c = at − limit these are the τ of
//
//	(c + slope·τ)² ≤ k²·(varAt + 2τ·both + τ²·varSlope)
//
// It is bounded when the slope is greater than k·√varSlope: ok is false where one of the
// errors leaves it without bounds.
func (l line) meets(limit float64) (when, from, to float64, ok bool) {
	when, from, to = l.mid+(limit-l.at)/l.slope, math.Inf(1), math.Inf(-1)
	c := l.at - limit
	for _, e := range l.errors {
		k2 := e.k * e.k
		a := float64(l.slope*l.slope) - float64(k2*e.varSlope)
		b := float64(l.slope*c) - float64(k2*e.both)
		d := math.Sqrt(math.Max(float64(b*b)-float64(a*(float64(c*c)-float64(k2*e.varAt))), 0))
		if !(a > 0) || math.IsNaN(d) {
			return when, math.NaN(), math.NaN(), false
		}
		from, to = math.Min(from, l.mid+(-b-d)/a), math.Max(to, l.mid+(-b+d)/a)
	}
	return when, from, to, len(l.errors) > 0
}

// bends tells whether the values follow a bent line clearly better than a straight one:
// whether the curvature of a parabola through them is beyond what the scatter about it
// explains, with Student's factor for n−3 degrees of freedom, and beyond what the errors of
// the values do. It takes four values.
func (l line) bends(t, y, u []float64) bool {
	if l.n < 4 {
		return false
	}
	weight := func(i int) float64 {
		if l.weighted {
			return 1 / float64(u[i]*u[i])
		}
		return 1
	}
	var sum, one, two, three float64 // moments about mid, where the first is nothing
	for i := range t {
		from := t[i] - l.mid
		sum += weight(i)
		one += weight(i) * from
		two += weight(i) * from * from
		three += weight(i) * from * from * from
	}
	var size, along float64
	for i := range t {
		from := t[i] - l.mid
		bow := from*from - three/two*from - two/sum // stands at right angles to line and mean
		size += weight(i) * bow * bow
		along += weight(i) * bow * (y[i] - l.value(t[i]))
	}
	if !(size > 1e-12*two*two/sum) { // fewer than three different times
		return false
	}
	bow := along * along / size
	least := square(1e-9 * l.at) // the rounding of the computer
	if l.weighted {
		least = 4 // what errors of 2u can bend
	}
	return bow > least && bow > square(studentFactor(l.n-3))*math.Max(l.chi2-bow, 0)/float64(l.n-3)
}

func square(x float64) float64 { return float64(x * x) }
