package kinds

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// Study is the paralleling study of two transformers from their plates alone: may
// they share a bar, on which taps, how they share its load, and what the board
// must withstand.
type Study struct {
	A         string          `json:"a"`
	B         string          `json:"b"`
	Limits    string          `json:"limits"` // where the limits below come from
	Findings  []StudyFinding  `json:"findings"`
	Shares    []StudyShare    `json:"shares"`
	Taps      StudyTaps       `json:"circulating"`
	Faults    []StudyFault    `json:"faults"`
	Volts     []StudyTapVolts `json:"volts"`
	NotWorked []string        `json:"not_worked"` // what the plan's data do not allow to work out
	Cautions  []string        `json:"cautions"`
}

// StudyFinding is one thing the plates say, against its limit.
type StudyFinding struct {
	Name   string `json:"name"`
	Text   string `json:"text"`
	Source string `json:"source"`
	OK     bool   `json:"ok"`
}

// StudyShare is how a load of some part of both ratings is shared.
type StudyShare struct {
	LoadPct float64 `json:"load_pct"` // of both ratings together
	LoadA   float64 `json:"load_a"`
	A       float64 `json:"a_a"`
	AU      float64 `json:"a_u_a"` // how far it may be off, by impedances and power factor
	APct    float64 `json:"a_pct"` // of A's rated current
	B       float64 `json:"b_a"`
	BU      float64 `json:"b_u_a"`
	BPct    float64 `json:"b_pct"`
}

// StudyTaps is the circulating current at no load for every pair of taps, in % of
// the smaller rated current; rows are A's taps, columns B's.
type StudyTaps struct {
	A       []string    `json:"a_taps"`
	B       []string    `json:"b_taps"`
	Pct     [][]float64 `json:"pct"`
	Allowed *float64    `json:"allowed_pct"` // null where no check of the plan sets it
}

// StudyFault is the fault level with some of the transformers in.
type StudyFault struct {
	In        string   `json:"in"`
	Board     string   `json:"board"`
	InitialA  float64  `json:"initial_a"`
	InitialU  float64  `json:"initial_u_a"` // how far it may be off, by impedances
	PeakA     float64  `json:"peak_a"`
	PeakU     float64  `json:"peak_u_a"`
	Kappa     float64  `json:"kappa"`
	ShortTime *float64 `json:"short_time_a"`
	Peak      *float64 `json:"peak_withstand_a"`
	OK        bool     `json:"ok"` // both ratings given and held
}

// StudyTapVolts is the no-load volts of one tap over the expected HV range.
type StudyTapVolts struct {
	Transformer string  `json:"transformer"`
	Tap         string  `json:"tap"`
	Low         float64 `json:"low_v"`
	Usual       float64 `json:"usual_v"`
	High        float64 `json:"high_v"`
}

// Studies works out the paralleling study of every pair of transformers of the
// plan. A pair that a parallel-balance check names is held to that check's limits,
// any other to common practice; no circulating limit is common practice.
func Studies(p *plan.Plan) []Study {
	out := []Study{}
	seen := map[string]bool{}
	for _, c := range p.Checks() {
		if g, ok := c.Given.(*parallelBalance); ok && !seen[g.A+"/"+g.B] {
			seen[g.A+"/"+g.B], seen[g.B+"/"+g.A] = true, true
			out = append(out, study(p, c, g, "check "+c.ID))
		}
	}
	ts := p.Plant.Transformers
	for i := range ts {
		for j := i + 1; j < len(ts); j++ {
			if seen[ts[i].ID+"/"+ts[j].ID] {
				continue
			}
			g := &parallelBalance{A: ts[i].ID, B: ts[j].ID}
			if len(p.Plant.Boards) > 0 {
				g.Board = p.Plant.Boards[0].ID
			}
			out = append(out, study(p, nil, g, "common practice"))
		}
	}
	return out
}

func study(p *plan.Plan, c *plan.Check, g *parallelBalance, limits string) Study {
	in := checks.Input{Plan: p, Check: c}
	a, b := p.Transformer(g.A), p.Transformer(g.B)
	s := Study{A: a.ID, B: b.ID, Limits: limits, Shares: []StudyShare{}, Faults: []StudyFault{}, Volts: []StudyTapVolts{}, NotWorked: []string{}, Cautions: []string{}}
	s.Findings = platesAgree(a, b, g)
	s.Taps = circulatingTable(in, a, b, g)
	fa, errA := feedOf(in, g.A, g.TapA, g.TapFromA)
	fb, errB := feedOf(in, g.B, g.TapB, g.TapFromB)
	if errA != nil || errB != nil {
		s.NotWorked = append(s.NotWorked, fmt.Sprintf("shares of load: %v", cmp.Or(errA, errB)))
	} else {
		s.shares(fa, fb)
	}
	if board := p.Board(g.Board); board != nil {
		s.faults(in, or(g.Factor, voltageFactor(p, board)), board, a, b)
		s.Cautions = append(s.Cautions, "Motors on the board feed a short circuit as well and are not in the fault level: add theirs before it is held against a rating closely.")
	} else {
		s.NotWorked = append(s.NotWorked, "fault level: the plan names no board")
	}
	for _, t := range []*plan.Transformer{a, b} {
		s.Volts = append(s.Volts, tapVolts(p.Plant.Supply, t)...)
	}
	return s
}

// platesAgree holds what the plates must agree in.
func platesAgree(a, b *plan.Transformer, g *parallelBalance) []StudyFinding {
	code, _ := groupsAgree(a, b)
	za, zb := float64(a.Impedance), float64(b.Impedance)
	match, limit := 100*math.Abs(za-zb)/math.Min(za, zb), limitOf("parallel-balance.impedance_match", g.Match).High
	ratio, most := math.Max(float64(a.Rating/b.Rating), float64(b.Rating/a.Rating)), limitOf("parallel-balance.rating_ratio", g.Ratio).High
	lv, spread := 100*math.Abs(float64(a.LV-b.LV))/float64(a.LV), limitOf("parallel-balance.difference", g.Difference).High
	return []StudyFinding{
		{"vector groups", groupsText(a, b), "IEC 60076-8", code == groupsAlike},
		{"impedances", fmt.Sprintf("%s %% and %s %%, %s %% apart of the smaller; %s %% allowed", quantity.Significant(za, 4), quantity.Significant(zb, 4), quantity.Significant(match, 3), quantity.Significant(limit, 3)), sourceOf(g.Match), quantity.NotAbove(match, limit)},
		{"ratings", fmt.Sprintf("%s and %s kVA, ratio %s; %s allowed", quantity.Significant(float64(a.Rating)/1e3, 5), quantity.Significant(float64(b.Rating)/1e3, 5), quantity.Significant(ratio, 3), quantity.Significant(most, 3)), sourceOf(g.Ratio), quantity.NotAbove(ratio, most)},
		{"rated LV volts", fmt.Sprintf("%s and %s V, %s %% apart; %s %% allowed", quantity.Significant(float64(a.LV), 5), quantity.Significant(float64(b.LV), 5), quantity.Significant(lv, 3), quantity.Significant(spread, 3)), sourceOf(g.Difference), quantity.NotAbove(lv, spread)},
	}
}

func sourceOf[T ~float64](given *T) string {
	if given != nil {
		return "plan"
	}
	return "common practice"
}

// tapsOf are a transformer's taps, or its rated HV volts where it has none.
func tapsOf(t *plan.Transformer) []plan.Tap {
	if len(t.Taps) > 0 {
		return t.Taps
	}
	return []plan.Tap{{Position: "rated", HV: t.HV}}
}

// circulatingTable works out the circulating current of every pair of taps at the
// usual HV volts, |E_A − E_B|/|Z_A + Z_B|. Impedances are those of the plate, which
// holds for the principal tap and nearly for the others.
func circulatingTable(in checks.Input, a, b *plan.Transformer, g *parallelBalance) StudyTaps {
	out := StudyTaps{A: []string{}, B: []string{}, Pct: [][]float64{}}
	if g.Circulating > 0 {
		out.Allowed = (*float64)(&g.Circulating)
	}
	for _, tb := range tapsOf(b) {
		out.B = append(out.B, tb.Position)
	}
	for _, ta := range tapsOf(a) {
		out.A = append(out.A, ta.Position)
		row := []float64{}
		for _, tb := range tapsOf(b) {
			row = append(row, circulatingPct(in, a, b, ta, tb))
		}
		out.Pct = append(out.Pct, row)
	}
	return out
}

// circulatingPct is one cell of the table; −1 where it cannot be worked out, which
// a checked plan does not allow.
func circulatingPct(in checks.Input, a, b *plan.Transformer, ta, tb plan.Tap) float64 {
	fa, errA := feedOn(in, a, &ta)
	fb, errB := feedOn(in, b, &tb)
	if cmp.Or(errA, errB) != nil {
		return -1
	}
	i, err := power.Circulating(fa.source, fb.source)
	if err != nil {
		return -1
	}
	return 100 * cmplx.Abs(i) / math.Min(fa.amps, fb.amps)
}

func (s *Study) shares(fa, fb feed) {
	total := (float64(fa.t.Rating) + float64(fb.t.Rating)) / math.Sqrt(3) / float64(fa.t.LV)
	for _, pct := range []float64{25, 50, 75, 100} {
		load := total * pct / 100
		i, err := share([]feed{fa, fb}, load, assumedPowerFactor)
		if err != nil {
			s.NotWorked = append(s.NotWorked, fmt.Sprintf("share of load: %v", err))
			return
		}
		ia, ib := cmplx.Abs(i[0]), cmplx.Abs(i[1])
		off := func(at int) float64 {
			return plateSpread(currentOf("", []feed{fa, fb}, at, calc.Datum("load", load, "A"), assumedFactor()))
		}
		s.Shares = append(s.Shares, StudyShare{pct, load, ia, off(0), 100 * ia / fa.amps, ib, off(1), 100 * ib / fb.amps})
	}
}

func (s *Study) faults(in checks.Input, c float64, board *plan.Board, a, b *plan.Transformer) {
	for _, set := range []struct {
		name  string
		units []*plan.Transformer
	}{{a.ID + " alone", []*plan.Transformer{a}}, {b.ID + " alone", []*plan.Transformer{b}}, {"both", []*plan.Transformer{a, b}}} {
		f, err := faultWith(in, c, board, set.units...)
		if err != nil {
			s.NotWorked = append(s.NotWorked, fmt.Sprintf("fault level, %s: %v", set.name, err))
			continue
		}
		off := func(part func(power.Fault) float64) float64 {
			return plateSpread(faultPart(in, "", part, c, board, set.units...))
		}
		line := StudyFault{In: set.name, Board: board.ID, InitialA: f.InitialA, InitialU: off(initialAmps), PeakA: f.PeakA, PeakU: off(peakAmps), Kappa: f.Kappa,
			ShortTime: (*float64)(board.ShortTime), Peak: (*float64)(board.Peak)}
		line.OK = board.ShortTime != nil && board.Peak != nil && quantity.NotAbove(f.InitialA, float64(*board.ShortTime)) && quantity.NotAbove(f.PeakA, float64(*board.Peak))
		s.Faults = append(s.Faults, line)
	}
}

// tapVolts are U_lv = U_hv·U_lv,rated/U_hv,tap on every tap, at the lowest, usual
// and highest expected HV volts.
func tapVolts(supply *plan.Supply, t *plan.Transformer) []StudyTapVolts {
	if supply == nil {
		return nil
	}
	usual := float64(supply.Usual)
	low, high := or(supply.Low, usual), or(supply.High, usual)
	var out []StudyTapVolts
	for _, tap := range tapsOf(t) {
		k := float64(t.LV) / float64(tap.HV)
		out = append(out, StudyTapVolts{t.ID, tap.Position, low * k, usual * k, high * k})
	}
	return out
}
