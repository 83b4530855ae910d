package quantity

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// unit is one way to write a quantity: base = value·factor + offset.
type unit struct {
	Symbol string // as printed
	Of     string // the quantity it measures
	Factor float64
	Offset float64
}

// Units lists every unit that is read, each quantity's base unit first.
// Factors are exact by definition: the SI, and NIST SP 811 (2008) appendix B.8
// with 1 lbf = 4.448 221 615 260 5 N, 1 ft = 0.3048 m, 1 kgf = 9.806 65 N.
var Units = []unit{
	{"V", "voltage", 1, 0}, {"mV", "voltage", 1e-3, 0}, {"kV", "voltage", 1e3, 0},
	{"A", "current", 1, 0}, {"mA", "current", 1e-3, 0}, {"kA", "current", 1e3, 0},
	{"Hz", "frequency", 1, 0}, {"mHz", "frequency", 1e-3, 0},
	{"VA", "apparent power", 1, 0}, {"kVA", "apparent power", 1e3, 0}, {"MVA", "apparent power", 1e6, 0},
	{"W", "power", 1, 0}, {"kW", "power", 1e3, 0}, {"MW", "power", 1e6, 0},
	{"Ω", "resistance", 1, 0}, {"µΩ", "resistance", 1e-6, 0}, {"mΩ", "resistance", 1e-3, 0},
	{"kΩ", "resistance", 1e3, 0}, {"MΩ", "resistance", 1e6, 0}, {"GΩ", "resistance", 1e9, 0}, {"TΩ", "resistance", 1e12, 0},
	{"N·m", "torque", 1, 0}, {"kN·m", "torque", 1e3, 0}, {"lbf·ft", "torque", 1.3558179483314004, 0},
	{"lbf·in", "torque", 0.1129848290276167, 0}, {"kgf·m", "torque", 9.80665, 0}, {"kgf·cm", "torque", 0.0980665, 0},
	{"ozf·in", "torque", 0.00706155181422604375, 0},
	{"°C", "temperature", 1, 0}, {"K", "temperature", 1, -273.15}, {"°F", "temperature", 5.0 / 9, -160.0 / 9},
	{"s", "duration", 1, 0}, {"ms", "duration", 1e-3, 0}, {"min", "duration", 60, 0}, {"h", "duration", 3600, 0},
	{"m", "length", 1, 0}, {"mm", "length", 1e-3, 0}, {"in", "length", 0.0254, 0},
	{"var", "reactive power", 1, 0}, {"kvar", "reactive power", 1e3, 0}, {"Mvar", "reactive power", 1e6, 0},
	{"µF", "capacitance", 1, 0}, {"nF", "capacitance", 1e-3, 0}, // no farad: a bare F is °F
	{"kPa", "pressure", 1, 0}, {"bar", "pressure", 100, 0},
	{"N", "force", 1, 0}, {"kN", "force", 1e3, 0},
	{"1/min", "rotational speed", 1, 0},
	{"m/s", "speed", 1, 0},
	{"l/min", "flow", 1, 0},
	{"lx", "illuminance", 1, 0},
	{"dB", "level", 1, 0},
	{"ppm", "concentration", 1, 0},
	{"%", "share", 1, 0},
	{"°", "angle", 1, 0},
	{"1", "number", 1, 0},
}

// Spellings are other ways people type the units above.
var Spellings = map[string]string{
	"ohm": "Ω", "ohms": "Ω", "Ω": "Ω", "uΩ": "µΩ", "μΩ": "µΩ", "uohm": "µΩ", "µohm": "µΩ", "mohm": "mΩ", "kohm": "kΩ", "Mohm": "MΩ", "Gohm": "GΩ", "Tohm": "TΩ",
	"Nm": "N·m", "N.m": "N·m", "N m": "N·m", "N*m": "N·m", "kNm": "kN·m", "kN.m": "kN·m",
	"lbf.ft": "lbf·ft", "lbf ft": "lbf·ft", "lbfft": "lbf·ft", "ft·lbf": "lbf·ft", "ft.lbf": "lbf·ft", "ft lbf": "lbf·ft",
	"lbf.in": "lbf·in", "lbf in": "lbf·in", "lbfin": "lbf·in", "in·lbf": "lbf·in", "in.lbf": "lbf·in", "in lbf": "lbf·in",
	"kgf.m": "kgf·m", "kgfm": "kgf·m", "kgf m": "kgf·m", "kgf.cm": "kgf·cm", "kgfcm": "kgf·cm", "kgf cm": "kgf·cm",
	"ozf.in": "ozf·in", "ozf in": "ozf·in",
	"degC": "°C", "C": "°C", "degF": "°F", "F": "°F", "deg": "°", "sec": "s", "hr": "h", "hour": "h", "hours": "h", "minute": "min", "minutes": "min",
	"uF": "µF", "μF": "µF", "rpm": "1/min", "r/min": "1/min", "lux": "lx",
	"pc": "%", "percent": "%", "per cent": "%",
}

// BaseUnit gives the base unit of a quantity, "" when there is none so named.
func BaseUnit(of string) string {
	for _, u := range Units {
		if u.Of == of {
			return u.Symbol
		}
	}
	return ""
}

// QuantityOf tells which quantity a unit measures, "" for an unknown unit.
func QuantityOf(symbol string) string {
	u, ok := BySymbol(symbol)
	if !ok {
		return ""
	}
	return u.Of
}

// UnitsOf lists the unit symbols of a quantity, base unit first.
func UnitsOf(of string) []string {
	var out []string
	for _, u := range Units {
		if u.Of == of {
			out = append(out, u.Symbol)
		}
	}
	return out
}

// FromBase gives a base-unit value in the named unit; an unknown unit is our
// own mistake and panics.
func FromBase(x float64, symbol string) float64 {
	u, ok := BySymbol(symbol)
	if !ok {
		panic("quantity: unknown unit " + symbol)
	}
	return (x - u.Offset) / u.Factor
}

// ToBase gives a value in the named unit in its base unit; FromBase undoes it.
func ToBase(x float64, symbol string) float64 {
	u, ok := BySymbol(symbol)
	if !ok {
		panic("quantity: unknown unit " + symbol)
	}
	return float64(x*u.Factor) + u.Offset
}

func BySymbol(symbol string) (unit, bool) {
	for _, u := range Units {
		if u.Symbol == symbol {
			return u, true
		}
	}
	return unit{}, false
}

// WithArticle puts a or an before a noun.
func WithArticle(noun string) string {
	if strings.IndexAny(noun, "aeiou") == 0 {
		return "an " + noun
	}
	return "a " + noun
}

// FindUnit reads a typed unit of the wanted quantity. Case matters only where
// it must: kv is a kilovolt, but m and M before a unit are never taken for one
// another, even where only one of the two is a unit here: they are 10⁹ apart.
func FindUnit(typed, of string) (unit, error) {
	name := typed
	if s, ok := Spellings[typed]; ok {
		name = s
	}
	if u, ok := BySymbol(name); ok && u.Of == of {
		return u, nil
	}
	hits := map[string]unit{}
	for _, u := range Units {
		if u.Of == of && sameButCase(u.Symbol, typed) {
			hits[u.Symbol] = u
		}
	}
	for other, s := range Spellings {
		if u, _ := BySymbol(s); u.Of == of && sameButCase(other, typed) {
			hits[s] = u
		}
	}
	if len(hits) == 1 {
		for _, u := range hits {
			return u, nil
		}
	}
	if len(hits) > 1 {
		var names []string
		for s := range hits {
			names = append(names, s)
		}
		sort.Strings(names)
		return unit{}, fmt.Errorf("unit %q may be %s: type it with its capitals", typed, strings.Join(names, " or "))
	}
	if typed == "nm" && of == "torque" {
		return unit{}, fmt.Errorf("unit \"nm\" is nanometres; %s in %s is wanted: did you mean N·m?", WithArticle(of), strings.Join(UnitsOf(of), ", "))
	}
	if u, ok := BySymbol(name); ok {
		return unit{}, fmt.Errorf("unit %q is %s; %s in %s is wanted", typed, WithArticle(u.Of), WithArticle(of), strings.Join(UnitsOf(of), ", "))
	}
	return unit{}, fmt.Errorf("unit %q is not known; %s in %s is wanted", typed, WithArticle(of), strings.Join(UnitsOf(of), ", "))
}

// sameButCase tells whether typed is a unit's name in other capitals, with a first
// letter that must stand as it is.
func sameButCase(name, typed string) bool {
	return strings.EqualFold(name, typed) && (name[0] == typed[0] || !FirstStands(name))
}

// FirstStands tells whether the first letter of a unit's name must be typed as it is: a
// prefix m or M, and an N that would in small be the prefix of another unit: nm is
// nanometres and no torque.
func FirstStands(name string) bool {
	return prefixM(name) || name == "Nm"
}

// prefixM tells whether a unit's name begins with the prefix m or M: what follows
// is then a unit of the same quantity itself, as in mV and Mohm but not in min.
func prefixM(name string) bool {
	if name[0] != 'm' && name[0] != 'M' {
		return false
	}
	rest, ok := bySpelling(name[1:])
	whole, _ := bySpelling(name)
	return ok && rest.Of == whole.Of
}

// bySpelling finds a unit by its symbol or by another way to write it.
func bySpelling(name string) (unit, bool) {
	if s, ok := Spellings[name]; ok {
		name = s
	}
	return BySymbol(name)
}

// Quantity is a number as typed and in its base unit.
type Quantity struct {
	Value float64 // base unit
	Unit  string  // the symbol it was typed in, "" when none was
	Bound string  // ">" or "<" when only a bound was read, else ""
}

// ParseQuantity reads "0.249 kV", "40 Nm", "26.5 lbf.ft" or ">2 GΩ" as a value
// of the wanted quantity. A bare number is taken in the unit bare; with bare ""
// the unit must be typed. Errors name what was met and what is accepted.
func ParseQuantity(s, of, bare string) (Quantity, error) {
	text := strings.TrimSpace(s)
	var q Quantity
	for _, b := range []string{">=", "<=", "≥", "≤", ">", "<"} {
		if rest, ok := strings.CutPrefix(text, b); ok {
			q.Bound, text = strings.NewReplacer(">=", ">", "<=", "<", "≥", ">", "≤", "<").Replace(b), strings.TrimSpace(rest)
			break
		}
	}
	number, symbol := cutNumber(text)
	if number == "" {
		return Quantity{}, fmt.Errorf("%q holds no number: type digits such as 418.2", s)
	}
	x, err := ParseNumber(number)
	if err != nil {
		return Quantity{}, err
	}
	if symbol == "" {
		if bare == "" {
			return Quantity{}, fmt.Errorf("%q has no unit; %s in %s is wanted", s, WithArticle(of), strings.Join(UnitsOf(of), ", "))
		}
		symbol = bare
	} else {
		q.Unit = symbol
	}
	u, err := FindUnit(symbol, of)
	if err != nil {
		return Quantity{}, err
	}
	if q.Unit != "" {
		q.Unit = u.Symbol
	}
	q.Value = float64(x*u.Factor) + u.Offset
	return q, nil
}

// cutNumber splits "26.5 lbf.ft" into its number and its unit.
func cutNumber(s string) (number, symbol string) {
	i := 0
	for i < len(s) {
		c := s[i]
		isExp := (c == 'e' || c == 'E') && i > 0 && i+1 < len(s) && strings.IndexByte("+-0123456789", s[i+1]) >= 0
		isSign := (c == '+' || c == '-') && (i == 0 || s[i-1] == 'e' || s[i-1] == 'E')
		if c >= '0' && c <= '9' || c == '.' || c == ',' || isExp || isSign {
			i++
			continue
		}
		if strings.HasPrefix(s[i:], "−") {
			i += len("−")
			continue
		}
		break
	}
	return s[:i], strings.TrimSpace(s[i:])
}

// Slack is the relative slack of a limit: limits include their own value, and a
// decimal such as 44.0 may stand a binary fraction beyond it.
const Slack = 1e-9

// NotAbove, NotBelow, Above and Below compare with a limit and its slack: the limit's own
// value is neither above nor below. None of them holds of what is not a number, so
// that not NotAbove says more than Above.
func NotAbove(x, limit float64) bool { return x <= limit+float64(Slack*math.Abs(limit)) }
func NotBelow(x, limit float64) bool { return x >= limit-float64(Slack*math.Abs(limit)) }
func Above(x, limit float64) bool    { return x > limit+float64(Slack*math.Abs(limit)) }
func Below(x, limit float64) bool    { return x < limit-float64(Slack*math.Abs(limit)) }

// AbsoluteZero is in °C, exact by definition of the kelvin.
const AbsoluteZero = -273.15

// OrNaN is a given value, NaN when it was not given.
func OrNaN[T ~float64](p *T) float64 {
	if p == nil {
		return math.NaN()
	}
	return float64(*p)
}

// Finite tells whether x is a number: neither NaN nor infinite.
func Finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
