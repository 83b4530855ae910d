package checks

import "math"

// What any plan may give the kinds, and how far a named reason may stretch it.
var _ = addFloors(
	within("prove-dead.life", "s", 60, 3600, "our choice: earths go on soon after the proof"),
	within("sync.life", "s", 1, 900, "our choice"),

	// Dead checks.
	within("prove-dead.system_voltage", "V", 12, 1.2e6, beyondUse),
	within("prove-dead.threshold", "", 0.02, 1, "50 V a.c. or 120 V d.c. is the most that is no hazard to touch: IEC 60364-4-41").times(deadMost),
	within("prove-dead.window", "s", 30, windowMost*60, "our choice: the proof before says nothing of the tester after an hour"),
	within("joints.joints.target", "N·m", 0.1, 5000, beyondUse),
	limit("joints.joints.tolerance", "%", 0.1, 25, "our choice: makers give 5 to 20 %"),
	limit("contact-resistance.factor", "", 1.01, 1.5, "ANSI/NETA: 50 % above the lowest of similar joints").reasoned(1.01, 2),
	within("contact-resistance.groups.maximum", "Ω", 1e-8, 0.1, "our choice: a joint has micro-ohms"),
	limit("contact-resistance.current", "A", 10, 10e3, "our choice; IEC 60694 6.4.1 asks 50 A, ANSI C37.09 100 A of switchgear").reasoned(1, 10e3),
	within("winding-resistance.reference", "°C", 0, 180, ourChoice),
	within("winding-resistance.t0", "", 200, 260, "235 copper, 225 aluminium: IEC 60076-1"),
	within("winding-resistance.maker.value", "Ω", 1e-7, 1e5, beyondUse),
	limit("winding-resistance.tolerance", "%", 0.01, 10, ourChoice).reasoned(0.01, 20),
	limit("winding-resistance.spread", "%", 0.01, 5, "our choice; 2 % is usual, 4 to 5 % with short leads to the bushings").reasoned(0.01, 10),
	limit("ratio.limit", "%", 0.01, 0.5, "IEC 60076-1 Table 1: the lower of 0.5 % and a tenth of the impedance").reasoned(0.01, 2),
	limit("ratio.other_limit", "%", 0.01, 0.5, "IEC 60076-1:1999 Table 1: as agreed, not less than the lower of 0.5 % and a tenth of the impedance").reasoned(0.01, 2),
	within("ratio.impedance", "%", 0.5, 25, ourChoice),
	within("restore.counted.planned", "", 0, 1000, ourChoice),

	// Insulation.
	within("insulation.reference", "°C", 0, 180, ourChoice),
	within("insulation.volts", "V", 50, 15e3, "our choice; ANSI/NETA table 100.1 ends at 5 kV"),
	within("insulation.volts", "", 0, 1, "our choice: a test of 1 kV, or of the highest rated volts of the plant").times(testVolts).reasoned(0, 2.5),
	limit("insulation.minimum", "Ω", 1e6, 1e14, "IEC 60364-6: 1 MΩ, and 0.5 MΩ of extra-low voltage").reasoned(0.5e6, 1e14),
	limit("insulation.minimum", "", 1, noEnd, "our choice: 1 MΩ for each kV of the test").times(leastOhms).reasoned(0.1, noEnd),
	within("insulation.combinations.volts", "V", 50, 15e3, "our choice; ANSI/NETA table 100.1 ends at 5 kV"),
	within("insulation.combinations.volts", "", 0, 1, "our choice: a test of 1 kV, or of the highest rated volts of the plant").times(testVolts).reasoned(0, 2.5),
	limit("insulation.combinations.minimum", "Ω", 1e6, 1e14, "IEC 60364-6: 1 MΩ, and 0.5 MΩ of extra-low voltage").reasoned(0.5e6, 1e14),
	limit("insulation.combinations.minimum", "", 1, noEnd, "our choice: 1 MΩ for each kV of the test").times(leastOhms).reasoned(0.1, noEnd),
	within("insulation.curve.at", "°C", -20, 180, beyondUse),
	within("insulation.curve.factor", "", 0.01, 100, "our choice: 100 K of the oil law make a thousand, of which a maker's curve is a part"),
	within("insulation.times", "s", 15, 600, "the times of the indices"),
	limit("insulation.polarisation", "", 1.5, 20, "IEEE 43: 1.5 for class A, 2.0 for B, F and H").reasoned(1, 20),
	limit("insulation.absorption_30", "", 1.1, 20, ourChoice).reasoned(1, 20),
	limit("insulation.absorption_15", "", 1.1, 20, ourChoice).reasoned(1, 20),
	limit("insulation.index_below", "Ω", 1e9, 1e14, "our choice; IEEE 43 sets an index aside from 5 GΩ on").reasoned(1e8, 1e14),

	// Live checks.
	limit("phase-presence.share", "%", 80, 100, "our choice: live means at least 0.8 of nominal"),
	within("phase-presence.nominal", "V", 24, 1.2e6, beyondUse),
	limit("lv-volts.line_band.low", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").times(lineVoltsOf).reasoned(0.8, 1.1),
	limit("lv-volts.line_band.high", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").times(lineVoltsOf).reasoned(0.9, 1.2),
	limit("lv-volts.phase_band.low", "", 0.896, 1.1, "IEC 60038: 230 V within 10 %").times(phaseVoltsOf).reasoned(0.8, 1.1),
	limit("lv-volts.phase_band.high", "", 0.9, 1.1, "IEC 60038: 230 V within 10 %").times(phaseVoltsOf).reasoned(0.9, 1.2),
	limit("lv-volts.tolerance", "%", 0.01, 5, "our choice: more is two taps and finds no wrong tap"),
	limit("unbalance.limit", "%", 0.05, 3, "IEC 61000-2-4 class 3: 3 %; 2 % in public networks").reasoned(0.05, 5),
	limit("parallel-balance.difference", "%", 0.01, 3, "our choice: more than a tap step").reasoned(0.01, 5),
	limit("parallel-balance.circulating", "%", 0.01, 20, "our choice: a load that no pump or lamp takes").reasoned(0.01, 100),
	limit("parallel-balance.impedance_match", "%", 0.01, 10, "the paralleling conditions of textbooks: impedances within 10 %").reasoned(0.01, 25),
	limit("parallel-balance.rating_ratio", "", 1, 3, "the paralleling conditions of textbooks: ratings at most 3:1").reasoned(1, 5),
	limit("parallel-balance.voltage_factor", "", 1.05, 1.1, "IEC 60909-0 Table 1: 1.05 or 1.10 for the greatest current").reasoned(1, 1.1),
	within("cross-volts.nominal", "V", 24, 1.2e6, beyondUse),
	limit("cross-volts.limit", "", 0, 0.1/math.Sqrt(3), "our choice: a tenth of the volts to neutral, about 6° apart").times(crossNominalOf).reasoned(0, 0.1),
	limit("cross-volts.limit_share", "%", 0.01, 10/math.Sqrt(3), "our choice: a tenth of the volts to neutral, about 6° apart").reasoned(0.01, 10),
	within("sync.rating", "VA", 100, 3e9, beyondUse),
	limit("sync.du", "%", 0.01, 10, "IEEE 1547-2018 Table 5: 10 % at most, for the smallest sources"),
	limit("sync.df", "Hz", 0.001, 0.3, "IEEE 1547-2018 Table 5: 0.3 Hz at most, for the smallest sources"),
	limit("sync.angle", "°", 0.1, 20, "IEEE 1547-2018 Table 5: 20° at most, for the smallest sources"),
	within("sync.closing_time", "s", 0, 2, beyondUse),
	limit("sync.fresh", "s", 1, 900, "our choice: two sides do not stand still for longer"),
	limit("load-share.least", "%", 20, 100, "our choice: less does not show a closed and sound connection"),
	limit("load-share.time_limit", "s", 10, 3600, "our choice: while two units share a bar its fault level is theirs together").reasoned(10, 24*3600),
	limit("load-share.after_limit", "%", 1, 100, "the rated current").reasoned(1, 150),
	limit("after-opening.after_limit", "%", 1, 100, "the rated current").reasoned(1, 150),
	limit("after-opening.sections.band.low", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").times(sectionVoltsOf).reasoned(0.8, 1.1),
	limit("after-opening.sections.band.high", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").times(sectionVoltsOf).reasoned(0.9, 1.2),
	within("tap-links.wanted", "", 0.8, 1.2, "our choice: taps reach some per cent").times(lineVoltsOf),
	limit("tap-links.band.low", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").times(lineVoltsOf).reasoned(0.8, 1.1),
	limit("tap-links.band.high", "", 0.9, 1.1, "IEC 60038: within 10 % of nominal").times(lineVoltsOf).reasoned(0.9, 1.2),
	within("soak.minutes", "", 0, 3*24*60, ourChoice),
	within("soak.every", "s", 60, 12*3600, ourChoice),
	within("soak.readings", "", 0, 1000, ourChoice),
	limit("soak.limit", "°C", 40, 180, "IEC 60076-11: 180 °C is the hot spot of class H").reasoned(40, 220),
	limit("thermal.least_load", "%", 40, 100, "our choice: a survey below 40 % of the rated current shows nothing").reasoned(20, 100),
	limit("thermal.over_similar", "K", 0.1, 15, "ANSI/NETA ATS: above 15 K between similar parts is major").reasoned(0.1, 30),
	limit("thermal.over_ambient", "K", 0.1, 70, "IEC 61439-1: 70 K at terminals").reasoned(0.1, 105),
)

func deadMost(s site) (low, high float64) {
	g, ok := s.check.Given.(*proveDead)
	if !ok {
		return both(math.NaN())
	}
	return both(g.thresholdMost())
}

// ratedVolts are the least and the greatest of a board's nominal volts and the rated
// LV volts of transformers, NaN when the plan knows none of them.
func ratedVolts(p *Plan, board string, transformers ...string) (low, high float64) {
	low, high = math.NaN(), math.NaN()
	take := func(x float64) {
		if x > 0 {
			low, high = math.Min(x, orElse(low, x)), math.Max(x, orElse(high, x))
		}
	}
	if b := p.Board(board); b != nil {
		take(float64(b.Nominal))
	}
	for _, id := range transformers {
		if t := p.Transformer(id); t != nil {
			take(float64(t.LV))
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

func lineVoltsOf(s site) (low, high float64) {
	if g, ok := around[*lvVolts](s); ok {
		return ratedVolts(s.plan, g.Board, g.Transformer)
	}
	if g, ok := around[*tapLinks](s); ok {
		return ratedVolts(s.plan, g.Board, g.Transformer)
	}
	return math.NaN(), math.NaN()
}

func phaseVoltsOf(s site) (low, high float64) {
	low, high = lineVoltsOf(s)
	return low / math.Sqrt(3), high / math.Sqrt(3)
}

func sectionVoltsOf(s site) (low, high float64) {
	x, _ := around[openedSection](s)
	return ratedVolts(s.plan, x.Board, x.Incomers...)
}

func crossNominalOf(s site) (low, high float64) {
	g, _ := around[*crossVolts](s)
	return both(Input{Plan: s.plan, Check: s.check}.crossNominal(g))
}

// testVolts is 1 kV, or the highest rated volts the plan names; NaN when it names none.
func testVolts(s site) (low, high float64) {
	most := 0.0
	for _, t := range s.plan.Plant.Transformers {
		most = math.Max(most, float64(t.HV))
	}
	for _, b := range s.plan.Plant.Boards {
		most = math.Max(most, float64(b.Nominal))
	}
	if x := s.plan.Plant.Supply; x != nil {
		most = math.Max(most, float64(x.Usual))
	}
	if most == 0 {
		return both(math.NaN())
	}
	return both(math.Max(most, 1e3))
}

// leastOhms is 1 MΩ for each kV of the test volts, and no less than 1 MΩ.
func leastOhms(s site) (low, high float64) {
	g, ok := around[*insulation](s)
	if !ok {
		return both(math.NaN())
	}
	c, _ := around[combination](s)
	volts := g.volts(c)
	if volts == nil {
		return both(math.NaN())
	}
	return both(1e6 * math.Max(1, float64(*volts)/1e3))
}
