package kinds

import (
	"math"

	"handback/checks"
	"handback/checks/plan"
)

// What any plan may give the kinds, and how far a named reason may stretch it.
var _ = plan.AddFloors(
	plan.Row("prove-dead.life", "s", 60, 3600, "our choice: earths go on soon after the proof"),
	plan.Row("sync.life", "s", 1, 900, "our choice"),

	// Dead checks.
	plan.Row("prove-dead.system_voltage", "V", 12, 1.2e6, plan.BeyondUse),
	plan.Row("prove-dead.threshold", "", 0.02, 1, "50 V a.c. or 120 V d.c. is the most that is no hazard to touch: IEC 60364-4-41").Times(deadMost),
	plan.Row("prove-dead.window", "s", 30, windowMost*60, "our choice: the proof before says nothing of the tester after an hour"),
	plan.Row("joints.joints.target", "N·m", 0.1, 5000, plan.BeyondUse),
	plan.Row("joints.joints.count", "", 1, maxReadings, plan.OurChoice),
	plan.Row("joints.joints.first", "", 0, mostNumber, plan.OurChoice),
	plan.Row("joints.joints.bolts", "", 1, mostBolts, plan.OurChoice),
	plan.LimitRow("joints.joints.tolerance", "%", 0.1, 25, "our choice: makers give 5 to 20 %"),
	plan.LimitRow("contact-resistance.factor", "", 1.01, 1.5, "ANSI/NETA: 50 % above the lowest of similar joints").Reasoned(1.01, 2),
	plan.Row("contact-resistance.groups.joints.count", "", 1, maxReadings, plan.OurChoice),
	plan.Row("contact-resistance.groups.joints.first", "", 0, mostNumber, plan.OurChoice),
	plan.Row("contact-resistance.groups.maximum", "Ω", 1e-8, 0.1, "our choice: a joint has micro-ohms"),
	plan.LimitRow("contact-resistance.current", "A", 10, 10e3, "our choice; IEC 60694 6.4.1 asks 50 A, ANSI C37.09 100 A of switchgear").Reasoned(1, 10e3),
	plan.Row("winding-resistance.reference", "°C", 0, 180, plan.OurChoice),
	plan.Row("winding-resistance.t0", "", 200, 260, "235 copper, 225 aluminium: IEC 60076-1"),
	plan.Row("winding-resistance.maker.value", "Ω", 1e-7, 1e5, plan.BeyondUse),
	plan.LimitRow("winding-resistance.tolerance", "%", 0.01, 10, plan.OurChoice).Reasoned(0.01, 20),
	plan.LimitRow("winding-resistance.spread", "%", 0.01, 5, "our choice; 2 % is usual, 4 to 5 % with short leads to the bushings").Reasoned(0.01, 10),
	plan.LimitRow("ratio.limit", "%", 0.01, 0.5, "IEC 60076-1 Table 1: the lower of 0.5 % and a tenth of the impedance").Reasoned(0.01, 2),
	plan.LimitRow("ratio.other_limit", "%", 0.01, 0.5, "IEC 60076-1:1999 Table 1: as agreed, not less than the lower of 0.5 % and a tenth of the impedance").Reasoned(0.01, 2),
	plan.Row("ratio.impedance", "%", 0.5, 25, plan.OurChoice),
	plan.LimitRow("trip-proof.trips.within", "s", 0.005, 60, "our choice: what an inverse-time element takes at a few times its setting").Reasoned(0.005, 600),
	plan.Row("trip-proof.trips.not_before", "s", 0.005, 600, plan.BeyondUse),
	plan.LimitRow("temperature-relay.spread", "K", 0.5, 10, "our choice: sensors of one evenly warm unit").Reasoned(0.5, 20),
	plan.LimitRow("temperature-relay.over_ambient", "K", 0.5, 10, "our choice: plant as cold as its room").Reasoned(0.5, 20),
	plan.LimitRow("temperature-relay.within", "K", 0.1, 5, "our choice: a dial tells 2 K, a relay with digits 1 K").Reasoned(0.1, 10),
	plan.LimitRow("temperature-relay.set_points.at", "°C", 30, 180, "IEC 60085: 180 °C is the temperature of class H").Reasoned(20, 220),
	plan.LimitRow("earth-continuity.conductors.limit", "Ω", 1e-6, 0.5, "our choice: an earth conductor within one plant has milliohms").Reasoned(1e-6, 5),
	plan.Row("earth-continuity.conductors.length", "m", 0.1, 1000, plan.BeyondUse),
	plan.Row("earth-continuity.conductors.section", "", 1.5, 10e3, plan.BeyondUse),
	plan.LimitRow("earth-continuity.conductors.joints", "Ω", 1e-6, 5e-3, "our choice: a joint has micro-ohms").Reasoned(1e-6, 0.05),
	plan.LimitRow("earth-continuity.current", "A", 0.2, 1000, "IEC 61557-4: at least 0.2 A"),
	plan.Row("restore.counted.planned", "", 0, 1000, plan.OurChoice),

	// Insulation.
	plan.Row("insulation.reference", "°C", 0, 180, plan.OurChoice),
	plan.Row("insulation.volts", "V", 50, 15e3, "our choice; ANSI/NETA table 100.1 ends at 5 kV"),
	plan.Row("insulation.volts", "", 0, 1, "our choice: a test of 1 kV, or of the highest rated volts of the plant").Times(testVolts).Reasoned(0, 2.5),
	plan.LimitRow("insulation.minimum", "Ω", 1e6, 1e14, "IEC 60364-6: 1 MΩ, and 0.5 MΩ of extra-low voltage").Reasoned(0.5e6, 1e14),
	plan.LimitRow("insulation.minimum", "", 1, plan.NoEnd, "our choice: 1 MΩ for each kV of the test").Times(leastOhms).Reasoned(0.1, plan.NoEnd),
	plan.Row("insulation.combinations.volts", "V", 50, 15e3, "our choice; ANSI/NETA table 100.1 ends at 5 kV"),
	plan.Row("insulation.combinations.volts", "", 0, 1, "our choice: a test of 1 kV, or of the highest rated volts of the plant").Times(testVolts).Reasoned(0, 2.5),
	plan.LimitRow("insulation.combinations.minimum", "Ω", 1e6, 1e14, "IEC 60364-6: 1 MΩ, and 0.5 MΩ of extra-low voltage").Reasoned(0.5e6, 1e14),
	plan.LimitRow("insulation.combinations.minimum", "", 1, plan.NoEnd, "our choice: 1 MΩ for each kV of the test").Times(leastOhms).Reasoned(0.1, plan.NoEnd),
	plan.Row("insulation.curve.at", "°C", -20, 180, plan.BeyondUse),
	plan.Row("insulation.curve.factor", "", 0.01, 100, "our choice: 100 K of the oil law make a thousand, of which a maker's curve is a part"),
	plan.Row("insulation.times", "s", 15, 600, "the times of the indices"),
	plan.LimitRow("insulation.polarisation", "", 1.5, 20, "IEEE 43: 1.5 for class A, 2.0 for B, F and H").Reasoned(1, 20),
	plan.LimitRow("insulation.absorption_30", "", 1.1, 20, plan.OurChoice).Reasoned(1, 20),
	plan.LimitRow("insulation.absorption_15", "", 1.1, 20, plan.OurChoice).Reasoned(1, 20),
	plan.LimitRow("insulation.index_below", "Ω", 1e9, 1e14, "our choice; IEEE 43 sets an index aside from 5 GΩ on").Reasoned(1e8, 1e14),

	// Vector group.
	plan.Row("vector-group.volts", "V", 20, 1000, "our choice: a supply of low voltage"),
	plan.LimitRow("vector-group.tolerance", "%", 1, 25, "our choice: neighbouring clock numbers stand half of the LV volts apart"),

	// Breakers.
	plan.LimitRow("breaker-times.open.low", "s", 0.001, 1, plan.BeyondUse),
	plan.LimitRow("breaker-times.open.high", "s", 0.005, 0.15, "our choice: a breaker opens within some cycles").Reasoned(0.005, 1),
	plan.LimitRow("breaker-times.close.low", "s", 0.001, 1, plan.BeyondUse),
	plan.LimitRow("breaker-times.close.high", "s", 0.005, 0.3, "our choice: a breaker closes within some cycles").Reasoned(0.005, 1),
	plan.Row("breaker-times.open_spread", "s", 0.0005, 0.02, plan.BeyondUse),
	plan.LimitRow("breaker-times.open_spread", "", 0, 1/6.0, "IEC 62271-100: a sixth of a cycle").Times(cycle).Reasoned(0, 0.5),
	plan.Row("breaker-times.close_spread", "s", 0.0005, 0.02, plan.BeyondUse),
	plan.LimitRow("breaker-times.close_spread", "", 0, 1/4.0, "IEC 62271-100: a quarter of a cycle").Times(cycle).Reasoned(0, 0.5),
	plan.Row("breaker-times.coils.volts", "V", 12, 500, plan.BeyondUse),
	plan.LimitRow("breaker-times.coils.share", "%", 10, 85, "IEC 62271-1: 70 % opening on d.c., 85 % opening on a.c. and closing").Reasoned(10, 100),

	// Withstand.
	plan.Row("withstand.volts", "V", 500, 1.5e6, plan.BeyondUse),
	plan.Row("withstand.volts", "", 0, 4, "our choice: four times 1 kV, or the highest rated volts of the plant").Times(testVolts).Reasoned(0, 8),
	plan.Row("withstand.tests.volts", "V", 500, 1.5e6, plan.BeyondUse),
	plan.Row("withstand.tests.volts", "", 0, 4, "our choice: four times 1 kV, or the highest rated volts of the plant").Times(testVolts).Reasoned(0, 8),
	plan.Row("withstand.rated", "V", 200, 1e6, plan.BeyondUse),
	plan.LimitRow("withstand.time", "s", 60, 48*3600, "our choice: a minute is the shortest withstand test of the product standards (IEC 60060-1)").Reasoned(5, 48*3600),
	plan.LimitRow("withstand.maximum", "A", 1e-6, 10, "our choice: no leakage is more, and a long cable charges with less").Reasoned(1e-6, 100),
	plan.LimitRow("withstand.rise", "%", 0.1, 10, "our choice: what a meter's last digits and the supply move").Reasoned(0.1, 25),
	plan.Row("withstand.capacitance", "µF", 1e-6, 100, plan.OurChoice),
	plan.Row("withstand.frequency", "Hz", 0.01, 500, "our choice: 0.01 Hz of very low frequency to the 300 Hz of a resonant set, and beyond"),
	plan.LimitRow("withstand.discharge", "s", 10, 48*3600, plan.OurChoice),

	// Live checks.
	plan.LimitRow("phase-presence.share", "%", 80, 100, "our choice: live means at least 0.8 of nominal"),
	plan.Row("phase-presence.nominal", "V", 24, 1.2e6, plan.BeyondUse),
	plan.LimitRow("lv-volts.line_band.low", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").Times(lineVoltsOf).Reasoned(0.8, 1.1),
	plan.LimitRow("lv-volts.line_band.high", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").Times(lineVoltsOf).Reasoned(0.9, 1.2),
	plan.LimitRow("lv-volts.phase_band.low", "", 0.896, 1.1, "IEC 60038: 230 V within 10 %").Times(phaseVoltsOf).Reasoned(0.8, 1.1),
	plan.LimitRow("lv-volts.phase_band.high", "", 0.9, 1.1, "IEC 60038: 230 V within 10 %").Times(phaseVoltsOf).Reasoned(0.9, 1.2),
	plan.LimitRow("lv-volts.tolerance", "%", 0.01, 5, "our choice: more is two taps and finds no wrong tap"),
	plan.LimitRow("unbalance.limit", "%", 0.05, 3, "IEC 61000-2-4 class 3: 3 %; 2 % in public networks").Reasoned(0.05, 5),
	plan.LimitRow("parallel-balance.difference", "%", 0.01, 3, "our choice: more than a tap step").Reasoned(0.01, 5),
	plan.LimitRow("parallel-balance.circulating", "%", 0.01, 20, "our choice: a load that no pump or lamp takes").Reasoned(0.01, 100),
	plan.LimitRow("parallel-balance.impedance_match", "%", 0.01, 10, "the paralleling conditions of textbooks: impedances within 10 %").Reasoned(0.01, 25),
	plan.LimitRow("parallel-balance.rating_ratio", "", 1, 3, "the paralleling conditions of textbooks: ratings at most 3:1").Reasoned(1, 5),
	plan.LimitRow("parallel-balance.voltage_factor", "", 1.05, 1.1, "IEC 60909-0 Table 1: 1.05 or 1.10 for the maximum current").Reasoned(1, 1.1),
	plan.Row("cross-volts.nominal", "V", 24, 1.2e6, plan.BeyondUse),
	plan.LimitRow("cross-volts.limit", "", 0, 0.1/math.Sqrt(3), "our choice: a tenth of the volts to neutral, about 6° apart").Times(crossNominalOf).Reasoned(0, 0.1),
	plan.LimitRow("cross-volts.limit_share", "%", 0.01, 10/math.Sqrt(3), "our choice: a tenth of the volts to neutral, about 6° apart").Reasoned(0.01, 10),
	plan.Row("sync.rating", "VA", 100, 3e9, plan.BeyondUse),
	plan.LimitRow("sync.du", "%", 0.01, 10, "IEEE 1547-2018 Table 5: 10 % at most, for the smallest sources"),
	plan.LimitRow("sync.df", "Hz", 0.001, 0.3, "IEEE 1547-2018 Table 5: 0.3 Hz at most, for the smallest sources"),
	plan.LimitRow("sync.angle", "°", 0.1, 20, "IEEE 1547-2018 Table 5: 20° at most, for the smallest sources"),
	plan.Row("sync.closing_time", "s", 0, 2, plan.BeyondUse),
	plan.LimitRow("sync.fresh", "s", 1, 900, "our choice: two sides do not stand still for longer"),
	plan.LimitRow("load-share.least", "%", 20, 100, "our choice: less does not show a closed and sound connection"),
	plan.LimitRow("load-share.time_limit", "s", 10, 3600, "our choice: while two units share a bar its fault level is theirs together").Reasoned(10, 24*3600),
	plan.LimitRow("load-share.after_limit", "%", 1, 100, "the rated current").Reasoned(1, 150),
	plan.LimitRow("after-opening.after_limit", "%", 1, 100, "the rated current").Reasoned(1, 150),
	plan.LimitRow("after-opening.sections.band.low", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").Times(sectionVoltsOf).Reasoned(0.8, 1.1),
	plan.LimitRow("after-opening.sections.band.high", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").Times(sectionVoltsOf).Reasoned(0.9, 1.2),
	plan.Row("tap-links.wanted", "", 0.8, 1.2, "our choice: taps reach some per cent").Times(lineVoltsOf),
	plan.LimitRow("tap-links.band.low", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").Times(lineVoltsOf).Reasoned(0.8, 1.1),
	plan.LimitRow("tap-links.band.high", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").Times(lineVoltsOf).Reasoned(0.9, 1.2),
	plan.Row("soak.minutes", "", 0, 3*24*60, plan.OurChoice),
	plan.Row("soak.every", "s", 60, 12*3600, plan.OurChoice),
	plan.Row("soak.readings", "", 0, 1000, plan.OurChoice),
	plan.LimitRow("soak.limit", "°C", 40, 180, "IEC 60076-11: 180 °C is the hot spot of class H").Reasoned(40, 220),
	plan.LimitRow("thermal.least_load", "%", 40, 100, "our choice: a survey below 40 % of the rated current shows nothing").Reasoned(20, 100),
	plan.LimitRow("thermal.over_similar", "K", 0.1, 15, "ANSI/NETA ATS: above 15 K between similar parts is major").Reasoned(0.1, 30),
	plan.LimitRow("thermal.over_ambient", "K", 0.1, 70, "IEC 61439-1: 70 K at terminals").Reasoned(0.1, 105),
)

// cycle is a cycle of the system, NaN where the plan does not tell its frequency.
func cycle(s plan.Site) (low, high float64) {
	if f := float64(s.Plan.System.Frequency); f > 0 {
		return plan.PartsOf(1 / f)
	}
	return plan.PartsOf(math.NaN())
}

func deadMost(s plan.Site) (low, high float64) {
	g, ok := s.Check.Given.(*proveDead)
	if !ok {
		return plan.PartsOf(math.NaN())
	}
	return plan.PartsOf(g.thresholdMost())
}

// ratedVolts are the least and the greatest of a board's nominal volts and the rated
// volts of incomers, NaN when the plan knows none of them.
func ratedVolts(p *plan.Plan, board string, incomers ...string) (low, high float64) {
	low, high = math.NaN(), math.NaN()
	take := func(x float64) {
		if x > 0 {
			low, high = math.Min(x, orElse(low, x)), math.Max(x, orElse(high, x))
		}
	}
	if b := p.Board(board); b != nil {
		take(float64(b.Nominal))
	}
	for _, id := range incomers {
		if x := p.Rated(id); x != nil {
			take(float64(x.Volts))
		}
	}
	return low, high
}

func orElse(x, other float64) float64 {
	if math.IsNaN(x) {
		return other
	}
	return x
}

func lineVoltsOf(s plan.Site) (low, high float64) {
	if g, ok := plan.Enclosing[*lvVolts](s); ok {
		return ratedVolts(s.Plan, g.Board, g.incomer())
	}
	if g, ok := plan.Enclosing[*tapLinks](s); ok {
		return ratedVolts(s.Plan, g.Board, g.Transformer)
	}
	return math.NaN(), math.NaN()
}

func phaseVoltsOf(s plan.Site) (low, high float64) {
	low, high = lineVoltsOf(s)
	return low / math.Sqrt(3), high / math.Sqrt(3)
}

func sectionVoltsOf(s plan.Site) (low, high float64) {
	x, _ := plan.Enclosing[openedSection](s)
	return ratedVolts(s.Plan, x.Board, x.Incomers...)
}

func crossNominalOf(s plan.Site) (low, high float64) {
	g, _ := plan.Enclosing[*crossVolts](s)
	return plan.PartsOf(crossNominal(checks.Input{Plan: s.Plan, Check: s.Check}, g))
}

// testVolts is 1 kV, or the highest rated volts the plan names; NaN when it names none.
func testVolts(s plan.Site) (low, high float64) {
	most := 0.0
	for _, t := range s.Plan.Plant.Transformers {
		most = math.Max(most, float64(t.HV))
	}
	for _, x := range s.Plan.Plant.Incomers {
		most = math.Max(most, float64(x.Rated))
	}
	for _, b := range s.Plan.Plant.Boards {
		most = math.Max(most, float64(b.Nominal))
	}
	if x := s.Plan.Plant.Supply; x != nil {
		most = math.Max(most, float64(x.Usual))
	}
	if most == 0 {
		return plan.PartsOf(math.NaN())
	}
	return plan.PartsOf(math.Max(most, 1e3))
}

// leastOhms is 1 MΩ for each kV of the test volts, and no less than 1 MΩ.
func leastOhms(s plan.Site) (low, high float64) {
	g, ok := plan.Enclosing[*insulation](s)
	if !ok {
		return plan.PartsOf(math.NaN())
	}
	c, _ := plan.Enclosing[combination](s)
	volts := g.volts(c)
	if volts == nil {
		return plan.PartsOf(math.NaN())
	}
	return plan.PartsOf(1e6 * math.Max(1, float64(*volts)/1e3))
}
