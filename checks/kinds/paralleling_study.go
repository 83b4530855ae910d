package kinds

import (
	"fmt"
	"math"
	"math/cmplx"

	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// greatestLoad is the largest load current that overloads none of the feeds, A. The
// magnitude of each current is convex in the load, so the loads that overload none
// are one stretch from 0 on, whose end halving finds. 0 when a feed is overloaded by
// circulating current alone.
func greatestLoad(feeds []feed, pf float64) (float64, error) {
	over := func(amps float64) (bool, error) {
		currents, err := share(feeds, amps, pf)
		for i, f := range feeds {
			if err == nil && !(cmplx.Abs(currents[i]) <= f.amps) {
				return true, nil
			}
		}
		return false, err
	}
	low, high := 0.0, 0.0
	for _, f := range feeds {
		high += f.amps
	}
	if is, err := over(0); is || err != nil {
		return 0, err
	}
	high *= 2 // their currents add up to the load or more: at twice the ratings one is over
	for range 64 {
		mid := (low + high) / 2
		is, err := over(mid)
		if is || err != nil {
			high = mid // a load the sources cannot carry is beyond every rating
		} else {
			low = mid
		}
	}
	return low, nil
}

// predictShare says what each feed carries when all of them share the sum of
// their ratings, and the greatest load they can share.
func predictShare(feeds []feed) []plan.Prediction {
	total, volts := 0.0, float64(feeds[0].t.LV)
	for _, f := range feeds {
		total += float64(f.t.Rating)
	}
	amps := total / math.Sqrt(3) / volts
	source := fmt.Sprintf("network solve, power factor %s lagging assumed", quantity.Significant(assumedPowerFactor, 3))
	load := calc.Datum("load", amps, "A")
	currents, err := share(feeds, amps, assumedPowerFactor)
	if err != nil {
		return []plan.Prediction{{Name: "share of load", Text: err.Error(), Source: source, Warn: true}}
	}
	var out []plan.Prediction
	for i, f := range feeds {
		pct := 100 * cmplx.Abs(currents[i]) / f.amps
		off := plateSpread(currentOf(source, feeds, i, load, assumedFactor()))
		out = append(out, plan.Prediction{Name: "share of load, " + f.t.ID, Source: source, Warn: quantity.Above(pct, mostOfRating),
			Text: fmt.Sprintf("%s A, %s %% of its rating, of a load of %s kVA (all ratings together); ±%s A as impedances and power factor may be",
				quantity.Significant(cmplx.Abs(currents[i]), 4), quantity.Significant(pct, 4), quantity.Significant(total/1000, 6), quantity.Significant(off, 2))})
	}
	if most, err := greatestLoad(feeds, assumedPowerFactor); err == nil {
		out = append(out, plan.Prediction{Name: "maximum load in parallel", Source: source, Warn: !(most > 0),
			Text: fmt.Sprintf("%s A, %s kVA, with no transformer above its rating", quantity.Significant(most, 4), quantity.Significant(most*math.Sqrt(3)*volts/1000, 5))})
	}
	return out
}
