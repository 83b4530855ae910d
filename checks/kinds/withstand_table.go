package kinds

import (
	"fmt"
	"math"
	"strings"

	"handback/checks/plan"
	"handback/checks/quantity"
)

// withstandRows are the field test volts of ANSI/NETA MTS-2019 table 100.2, for rated volts from and to,
// 0 where it gives none. That it is a table of switchgear is from memory.
var withstandRows = []struct{ from, to, ac, dc float64 }{
	{254, 635, 1.6e3, 2.3e3},
	{730, 1058, 2.2e3, 3.1e3},
	{4.76e3, 4.76e3, 14e3, 20e3},
	{8.25e3, 8.25e3, 27e3, 37.5e3},
	{15e3, 15e3, 27e3, 37.5e3},
	{27e3, 27e3, 45e3, 0},
	{38e3, 38e3, 60e3, 0},
}

// published are the test volts that the named table gives for the rated volts of the
// plant, nil where it gives none: nothing is read between its rows.
func (g *withstand) published() *quantity.Volt {
	for _, r := range withstandRows {
		if u := quantity.OrNaN(g.Rated); !(u >= r.from*(1-1e-9) && u <= r.to*(1+1e-9)) {
			continue
		}
		if v := quantity.Volt(map[string]float64{"ac": r.ac, "dc": r.dc}[g.Wave]); v > 0 {
			return &v
		}
	}
	return nil
}

// voltsSource is where the test volts come from.
func (g *withstand) voltsSource() string {
	if g.Standard != "" {
		return g.Standard
	}
	return g.Source
}

// predictedSource is where volts and time come from.
func (g *withstand) predictedSource() string {
	if g.Standard != "" {
		return g.Standard + "; time: " + g.Source
	}
	return g.Source
}

// validateStandard holds a plan that takes its test volts from a table to what that gives.
func (g *withstand) validateStandard(say plan.Say) {
	switch {
	case g.Standard == "" && g.Rated != nil:
		say("rated", "rated volts choose the row of a table: name its standard, or leave them out")
	case g.Standard == "":
	case g.Plant != "switchgear":
		say("standard", "%s is of switchgear: give the volts of %s from its own document", g.Standard, g.Plant)
	case g.Rated == nil:
		say("rated", "missing: the rated volts that choose the row of %s", g.Standard)
	case g.published() == nil:
		say("rated", "%s gives no %s test volts for %s: it has %s; give volts and their source instead", g.Standard, waveNames[g.Wave], quantity.Neat(float64(*g.Rated), "V"), ratedWords(g.Wave))
	}
	if g.Standard == "" {
		return
	}
	if g.Volts != nil {
		say("volts", "%s gives the test volts: leave these out, or leave the standard out", g.Standard)
	}
	for i, t := range g.Tests {
		if t.Volts != nil {
			say(fmt.Sprintf("tests[%d].volts", i+1), "%s gives the test volts: leave these out, or leave the standard out", g.Standard)
		}
	}
}

// ratedWords lists the rated volts for which the table gives volts of a wave.
func ratedWords(wave string) string {
	var out []string
	for _, r := range withstandRows {
		if v := map[string]float64{"ac": r.ac, "dc": r.dc}[wave]; !(v > 0) {
			continue
		}
		text := quantity.Neat(r.from, "V")
		if math.Abs(r.to-r.from) > 0 {
			text += " to " + quantity.Neat(r.to, "V")
		}
		out = append(out, text)
	}
	if len(out) == 0 {
		return "none at all of that wave"
	}
	return strings.Join(out, ", ")
}
