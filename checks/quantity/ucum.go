package quantity

// ucum are the codes of units in the Unified Code for Units of Measure, case sensitive,
// by the symbol printed here: those of Units, and those that findings are made of them.
// UCUM has no sign of its own for a var: it is a volt-ampere with an annotation, which
// has no meaning for a computer.
var ucum = map[string]string{
	"V": "V", "mV": "mV", "kV": "kV",
	"A": "A", "mA": "mA", "kA": "kA",
	"Hz": "Hz", "mHz": "mHz",
	"VA": "V.A", "kVA": "kV.A", "MVA": "MV.A",
	"W": "W", "kW": "kW", "MW": "MW",
	"Ω": "Ohm", "µΩ": "uOhm", "mΩ": "mOhm", "kΩ": "kOhm", "MΩ": "MOhm", "GΩ": "GOhm", "TΩ": "TOhm",
	"N·m": "N.m", "kN·m": "kN.m", "lbf·ft": "[lbf_av].[ft_i]", "lbf·in": "[lbf_av].[in_i]",
	"kgf·m": "kgf.m", "kgf·cm": "kgf.cm", "ozf·in": "[oz_av].[g].[in_i]",
	"°C": "Cel", "K": "K", "°F": "[degF]",
	"s": "s", "ms": "ms", "min": "min", "h": "h",
	"m": "m", "mm": "mm", "in": "[in_i]",
	"var": "V.A{reactive}", "kvar": "kV.A{reactive}", "Mvar": "MV.A{reactive}",
	"µF": "uF", "nF": "nF",
	"kPa": "kPa", "bar": "bar",
	"N": "N", "kN": "kN",
	"1/min": "/min", "m/s": "m/s", "l/min": "L/min",
	"lx": "lx", "dB": "dB", "ppm": "[ppm]", "%": "%", "°": "deg", "1": "1",
	"K/h": "K/h",
}

// UCUM is the code of a unit in the Unified Code for Units of Measure, by its symbol; ""
// for what has none. A bare number has the unit 1.
func UCUM(symbol string) string {
	if symbol == "" {
		return "1"
	}
	return ucum[symbol]
}
