package checks

// The span outside which a typed temperature of plant at rest is doubted, °C
// (our choice): no winding is colder on site, and none that stands dead and cool
// enough to touch is hotter. A reading in kelvin falls outside.
const coldest, hottest = -60.0, 200.0

// absoluteZero is in °C, exact by definition of the kelvin.
const absoluteZero = -273.15

// temperatureFields ask a temperature under temp, and the thermometer first
// where the plan names one. Without one the reading's accuracy is not known.
func temperatureFields(label, thermometer string) []Field {
	temp := Field{Key: "temp", Label: label, Sort: Measured, Unit: "°C", Need: true, Example: "20"}
	if thermometer == "" {
		return []Field{temp}
	}
	temp.Meter = "thermometer"
	return []Field{{Key: "thermometer", Label: "thermometer", Sort: MeterUsed, Need: true, Default: thermometer,
		Hint: "the thermometer in your hand, by its id in the plan", Example: "th-1"}, temp}
}

// needThermometer demands that a named thermometer reads temperatures.
func needThermometer(p *Plan, id string, say sayFunc) {
	needMeter(p, "thermometer", id, say)
	needReads(p, "thermometer", id, "temperature", say)
}

// needReference demands a reference temperature that plant is referred to.
func needReference(c *Celsius, say sayFunc) {
	if c != nil && !(*c >= 0 && *c <= 180) {
		say("reference", "%v °C: resistances are referred to 0 to 180 °C", float64(*c))
	}
}

// doubtTemperature names a temperature that plant at rest does not have.
func doubtTemperature(in Input) []Doubt {
	a, ok := in.Answers["temp"]
	switch {
	case !ok || a.Value >= coldest && a.Value <= hottest:
		return nil
	case a.Value < absoluteZero:
		return []Doubt{{Fields: []string{"temp"}, Said: Say("below-absolute-zero", Num("read", a.Value, "°C"))}}
	}
	return []Doubt{{Fields: []string{"temp"}, Said: Say("no-plant-temperature", Num("read", a.Value, "°C"), Num("coldest", coldest, "°C"), Num("hottest", hottest, "°C"))}}
}
