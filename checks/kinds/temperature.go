package kinds

import (
	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// The span outside which a typed temperature of plant at rest is doubted, °C
// (our choice): no winding is colder on site, and none that stands dead and cool
// enough to touch is hotter. A reading in kelvin falls outside.
const coldest, hottest = -60.0, 200.0

// temperatureFields ask a temperature under temp, and the thermometer first
// where the plan names one. Without one the reading's accuracy is not known.
func temperatureFields(label, thermometer string) []checks.Field {
	temp := checks.Field{Key: "temp", Label: label, Sort: checks.Measured, Unit: "°C", Need: true, Example: "20"}
	if thermometer == "" {
		return []checks.Field{temp}
	}
	temp.Meter = "thermometer"
	return []checks.Field{{Key: "thermometer", Label: "thermometer", Sort: checks.MeterUsed, Need: true, Default: thermometer,
		Hint: "the thermometer in your hand, by its id in the plan", Example: "th-1"}, temp}
}

// needReference demands a reference temperature that plant is referred to.
func needReference(c *quantity.Celsius, say plan.Say) {
	if c != nil && !(*c >= 0 && *c <= 180) {
		say("reference", "%v °C: resistances are referred to 0 to 180 °C", float64(*c))
	}
}

// doubtTemperature names a temperature that plant at rest does not have.
func doubtTemperature(in checks.Input, key string) []checks.Doubt {
	a, ok := in.Answers[key]
	switch {
	case !ok || a.Value >= coldest && a.Value <= hottest:
		return nil
	case a.Value < quantity.AbsoluteZero:
		return []checks.Doubt{{Fields: []string{key}, Said: checks.Say("below-absolute-zero", checks.Num("read", a.Value, "°C"))}}
	}
	return []checks.Doubt{{Fields: []string{key}, Said: checks.Say("no-plant-temperature", checks.Num("read", a.Value, "°C"), checks.Num("coldest", coldest, "°C"), checks.Num("hottest", hottest, "°C"))}}
}
