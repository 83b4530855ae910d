package certificate

import (
	"fmt"
	"strings"

	"handback/report"
)

// Statements are what a certificate says of itself, each with its label: to which results
// its verdicts apply, by which limits and rule, what they relate to, and what was left out
// or done otherwise (ISO/IEC 17025:2017, 7.8.2.1 and 7.8.6.2). The wording is our choice.
func Statements(d *report.Document) [][2]string {
	return [][2]string{
		{"conformity", "A verdict is stated for every result that has a limit, and for every condition that was asked. The limit stands beside it, and its source below the table on its test sheet."},
		{"decision rule", d.Rule},
		{"relates to", "The results relate to the plant named above alone, in the state and at the times recorded."},
		{"sampling", "Nothing was sampled: every point that the plan names was asked for, and what was not taken is shown as missing."},
		{"method", "Each kind of check as the sheet Method says, with its sources and cautions; procedure and limits as the plan and the papers named above say."},
		{"departures", departures(d)},
		{"from others", "Readings are those of the people and instruments named. What comes from others, such as nameplates and the plan's own values, is given with its source."},
	}
}

// departures count what was added, left out, or done otherwise than the plan first said.
func departures(d *report.Document) string {
	var out []string
	add := func(n int, one, many string) {
		if n > 0 {
			out = append(out, report.Count(n, one, many))
		}
	}
	add(len(d.Amendments), "amendment of the plan", "amendments of the plan")
	add(len(d.TakenOut), "check taken out of the plan", "checks taken out of the plan")
	add(len(d.Concessions), "concession", "concessions")
	add(len(d.Overrides), "override", "overrides")
	repeats := 0
	for _, p := range d.Pages() {
		repeats += max(0, len(p.Attempts)-1)
	}
	add(repeats, "repeated attempt", "repeated attempts")
	if len(out) == 0 {
		return "No amendment, concession, override or repeat."
	}
	return fmt.Sprintf("%s; each is told above, on its test sheet or on the sheet Flags.", strings.Join(out, ", "))
}
