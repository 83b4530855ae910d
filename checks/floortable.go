package checks

import "math"

// floorTable has the rows by path, in the order they were given.
var floorTable = map[string][]floor{}

// addFloors adds rows to the table, at package-variable time.
func addFloors(rows ...floor) bool {
	for _, f := range rows {
		floorTable[f.path] = append(floorTable[f.path], f)
	}
	return true
}

const (
	ourChoice = "our choice"
	beyondUse = "our choice: beyond it no such value is met"
)

var noEnd = math.Inf(1)

// Together with the rows that the kinds add, these bound every number a plan can give.
// A row without a published source is our choice and says so; what is from memory of a
// source is marked. Conditions that compare two values of one plan (a tap within the
// list, low below high) are not here but with what they belong to.
var _ = addFloors(
	// Any value of a quantity, where no row of its own bounds it: what kind measure holds.
	within("any/voltage", "V", -3e6, 3e6, "our choice: 1200 kV is the highest voltage of a.c. networks, and test sets reach beyond"),
	within("any/current", "A", -1e6, 1e6, beyondUse),
	within("any/frequency", "Hz", 0, 100e3, beyondUse),
	within("any/apparent power", "VA", 0, 5e9, beyondUse),
	within("any/power", "W", -5e9, 5e9, beyondUse),
	within("any/resistance", "Ω", 0, 1e15, beyondUse),
	within("any/torque", "N·m", 0, 20e3, beyondUse),
	within("any/temperature", "°C", absoluteZero, 2000, "absolute zero; the upper end is our choice"),
	within("any/duration", "s", 0, 31*24*3600, beyondUse),
	within("any/length", "m", 0, 1e6, beyondUse),
	within("any/share", "%", -1000, 1000, beyondUse),
	within("any/angle", "°", -360, 360, "a full turn"),
	within("any/number", "1", -1e9, 1e9, beyondUse),

	// The network and the instruments. What a range reaches is its maker's to say.
	within("instruments.ranges.to", "", -noEnd, noEnd, ourChoice),
	within("instruments.ranges.from", "", -noEnd, noEnd, ourChoice),
	within("instruments.ranges.resolution", "", -noEnd, noEnd, ourChoice),
	within("system.frequency", "Hz", 16, 400, "our choice: 16.7, 25, 50, 60 and 400 Hz are the frequencies of power networks"),
	within("instruments.rated_from", "V", 0, 1.2e6, beyondUse),
	within("instruments.rated_to", "V", 1, 1.2e6, beyondUse),
	within("instruments.ranges.reading", "%", 0, 10, "our choice: a wider accuracy judges nothing"),
	within("instruments.ranges.reading/resistance", "%", 0, 30, "IEC 61557-2: 30 % at most for an insulation tester"),
	within("instruments.ranges.digits", "", 0, 100, ourChoice),
	within("instruments.ranges.of_range", "%", 0, 10, "our choice: a wider accuracy judges nothing"),

	// Nameplates.
	within("plant.supply.usual", "V", 50, 1.2e6, beyondUse),
	within("plant.supply.low", "", 0.8, 1, "our choice: a supply stays within 20 %").times(supplyUsual),
	within("plant.supply.high", "", 1, 1.2, "our choice: a supply stays within 20 %").times(supplyUsual),
	within("plant.supply.fault", "VA", 100e3, 100e9, "our choice; IEC 60076-5 ends at 83.5 GVA"),
	within("plant.transformers.rating", "VA", 1, 3e9, beyondUse),
	within("plant.transformers.hv", "V", 50, 1.2e6, beyondUse),
	within("plant.transformers.lv", "V", 12, 1e6, beyondUse),
	within("plant.transformers.impedance", "%", 0.5, 25, "our choice; IEC 60076-5 Table 1 gives 4 to 12.5 %"),
	within("plant.transformers.impedance_u", "%", 0, 30, "our choice; IEC 60076-1 Table 1 gives 10 %, and 7.5 % from 10 % impedance on"),
	within("plant.transformers.load_loss", "", 0, 0.15, "our choice: the load loss is a few per cent of the rating").times(transformerRating),
	within("plant.transformers.taps.hv", "", 0.7, 1.3, "our choice: a tap is some per cent from the rated volts").times(transformerHV),
	within("plant.boards.nominal", "V", 24, 1.2e6, beyondUse),
	within("plant.boards.short_time", "A", 100, 200e3, beyondUse),
	within("plant.boards.peak", "A", 100, 600e3, beyondUse),
	within("plant.boards.peak", "", 1, 2.8, "IEC 62271-1 gives 2.5 to 2.7 times the short-time current, IEC 61439-1 at most 2.2").times(boardShortTime),

	// How long a finding counts.
	within("check.life", "s", 60, 7*24*3600, ourChoice).reasoned(60, 31*24*3600),
)

func supplyUsual(s site) (low, high float64) {
	if x, ok := around[*Supply](s); ok {
		return both(float64(x.Usual))
	}
	return both(math.NaN())
}

func transformerRating(s site) (low, high float64) {
	t, _ := around[Transformer](s)
	return both(float64(t.Rating))
}

func transformerHV(s site) (low, high float64) {
	t, _ := around[Transformer](s)
	return both(float64(t.HV))
}

func boardShortTime(s site) (low, high float64) {
	b, _ := around[Board](s)
	if b.ShortTime == nil {
		return both(math.NaN())
	}
	return both(float64(*b.ShortTime))
}

func both(x float64) (low, high float64) {
	if !(x > 0) {
		x = math.NaN()
	}
	return x, x
}
