package plan

import (
	"math"

	"handback/checks/quantity"
)

// floorTable has the rows by path, in the order they were given.
var floorTable = map[string][]floor{}

// AddFloors adds rows to the table, at package-variable time.
func AddFloors(rows ...floor) bool {
	for _, f := range rows {
		floorTable[f.Path] = append(floorTable[f.Path], f)
	}
	return true
}

const (
	OurChoice = "our choice"
	BeyondUse = "our choice: beyond it no such value is met"
)

var NoEnd = math.Inf(1)

// Together with the rows that the kinds add, these bound every number a plan can give.
// A row without a published source is our choice and says so; what is from memory of a
// source is marked. Conditions that compare two values of one plan (a tap within the
// list, low below high) are not here but with what they belong to.
var _ = AddFloors(
	// Any value of a quantity, where no row of its own bounds it: what kind measure holds.
	Row("any/voltage", "V", -3e6, 3e6, "our choice: 1200 kV is the highest voltage of a.c. networks, and test sets reach beyond"),
	Row("any/current", "A", -1e6, 1e6, BeyondUse),
	Row("any/frequency", "Hz", 0, 100e3, BeyondUse),
	Row("any/apparent power", "VA", 0, 5e9, BeyondUse),
	Row("any/power", "W", -5e9, 5e9, BeyondUse),
	Row("any/resistance", "Ω", 0, 1e15, BeyondUse),
	Row("any/torque", "N·m", 0, 20e3, BeyondUse),
	Row("any/temperature", "°C", quantity.AbsoluteZero, 2000, "absolute zero; the upper end is our choice"),
	Row("any/duration", "s", 0, 31*24*3600, BeyondUse),
	Row("any/length", "m", 0, 1e6, BeyondUse),
	Row("any/reactive power", "var", -5e9, 5e9, BeyondUse),
	Row("any/capacitance", "µF", 0, 1e6, BeyondUse),
	Row("any/pressure", "kPa", -101.325, 1e6, "no pressure is further below the air's, 101.325 kPa (ISO 2533); the upper end is our choice"),
	Row("any/force", "N", -1e8, 1e8, BeyondUse),
	Row("any/rotational speed", "1/min", -1e5, 1e5, BeyondUse),
	Row("any/speed", "m/s", -1000, 1000, BeyondUse),
	Row("any/flow", "l/min", -1e7, 1e7, BeyondUse),
	Row("any/illuminance", "lx", 0, 200e3, "our choice: full sun is about 100 klx"),
	Row("any/level", "dB", -300, 300, BeyondUse),
	Row("any/concentration", "ppm", 0, 1e6, "a million parts are the whole"),
	Row("any/share", "%", -1000, 1000, BeyondUse),
	Row("any/angle", "°", -360, 360, "a full turn"),
	Row("any/number", "1", -1e9, 1e9, BeyondUse),

	// The network and the instruments. What a range reaches is its maker's to say.
	Row("instruments.ranges.to", "", -NoEnd, NoEnd, OurChoice),
	Row("instruments.ranges.from", "", -NoEnd, NoEnd, OurChoice),
	Row("instruments.ranges.resolution", "", -NoEnd, NoEnd, OurChoice),
	Row("system.frequency", "Hz", 16, 400, "our choice: 16.7, 25, 50, 60 and 400 Hz are the frequencies of power networks"),
	Row("instruments.rated_from", "V", 0, 1.2e6, BeyondUse),
	Row("instruments.rated_to", "V", 1, 1.2e6, BeyondUse),
	Row("instruments.ranges.reading", "%", 0, 10, "our choice: a wider accuracy judges nothing"),
	Row("instruments.ranges.reading/resistance", "%", 0, 30, "IEC 61557-2: 30 % at most for an insulation tester"),
	Row("instruments.ranges.digits", "", 0, 100, OurChoice),
	Row("instruments.ranges.of_range", "%", 0, 10, "our choice: a wider accuracy judges nothing"),

	// Nameplates.
	Row("plant.supply.usual", "V", 50, 1.2e6, BeyondUse),
	Row("plant.supply.low", "", 0.8, 1, "our choice: a supply stays within 20 %").Times(supplyUsual),
	Row("plant.supply.high", "", 1, 1.2, "our choice: a supply stays within 20 %").Times(supplyUsual),
	Row("plant.supply.fault", "VA", 100e3, 100e9, "our choice; IEC 60076-5 ends at 83.5 GVA"),
	Row("plant.transformers.rating", "VA", 1, 3e9, BeyondUse),
	Row("plant.transformers.hv", "V", 50, 1.2e6, BeyondUse),
	Row("plant.transformers.lv", "V", 12, 1e6, BeyondUse),
	Row("plant.transformers.impedance", "%", 0.5, 25, "our choice; IEC 60076-5 Table 1 gives 4 to 12.5 %"),
	Row("plant.transformers.impedance_u", "%", 0, 30, "our choice; IEC 60076-1 Table 1 gives 10 %, and 7.5 % from 10 % impedance on"),
	Row("plant.transformers.load_loss", "", 0, 0.15, "our choice: the load loss is a few per cent of the rating").Times(transformerRating),
	Row("plant.transformers.taps.hv", "", 0.7, 1.3, "our choice: a tap is some per cent from the rated volts").Times(transformerHV),
	Row("plant.incomers.rated", "V", 12, 1.2e6, BeyondUse),
	Row("plant.incomers.rating", "VA", 1, 3e9, BeyondUse),
	Row("plant.boards.nominal", "V", 24, 1.2e6, BeyondUse),
	Row("plant.boards.short_time", "A", 100, 200e3, BeyondUse),
	Row("plant.boards.peak", "A", 100, 600e3, BeyondUse),
	Row("plant.boards.peak", "", 1, 2.8, "IEC 62271-1 gives 2.5 to 2.7 times the short-time current, IEC 61439-1 at most 2.2").Times(boardShortTime),

	// How long a finding counts.
	Row("network.proved_for", "s", 60, 4*3600, OurChoice),
	Row("network.phased_for", "s", 10, 3600, OurChoice),
	Row("step.planned", "s", 0, 31*24*3600, OurChoice),
	Row("check.life", "s", 60, 7*24*3600, OurChoice).Reasoned(60, 31*24*3600),
)

func supplyUsual(s Site) (low, high float64) {
	if x, ok := Enclosing[*Supply](s); ok {
		return PartsOf(float64(x.Usual))
	}
	return PartsOf(math.NaN())
}

func transformerRating(s Site) (low, high float64) {
	t, _ := Enclosing[Transformer](s)
	return PartsOf(float64(t.Rating))
}

func transformerHV(s Site) (low, high float64) {
	t, _ := Enclosing[Transformer](s)
	return PartsOf(float64(t.HV))
}

func boardShortTime(s Site) (low, high float64) {
	b, _ := Enclosing[Board](s)
	if b.ShortTime == nil {
		return PartsOf(math.NaN())
	}
	return PartsOf(float64(*b.ShortTime))
}

// PartsOf lets both bounds of a floor be parts of x, where the plan gives it.
func PartsOf(x float64) (low, high float64) {
	if !(x > 0) {
		x = math.NaN()
	}
	return x, x
}
