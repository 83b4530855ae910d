package quantity

import (
	"math"
	"strings"
	"testing"
)

func TestParseQuantity_accepted(t *testing.T) {
	for _, c := range []struct {
		typed, of, bare string
		want            Quantity
	}{
		{"0.249 kV", "voltage", "V", Quantity{249, "kV", ""}},
		{"249", "voltage", "V", Quantity{249, "", ""}},
		{"0.249", "voltage", "kV", Quantity{249, "", ""}},
		{"249V", "voltage", "V", Quantity{249, "V", ""}},
		{"249 v", "voltage", "V", Quantity{249, "V", ""}},
		{"11 KV", "voltage", "V", Quantity{11000, "kV", ""}},
		{"1.5e3V", "voltage", "V", Quantity{1500, "V", ""}},
		{"−5 °", "angle", "°", Quantity{-5, "°", ""}},
		{">2 GΩ", "resistance", "MΩ", Quantity{2e9, "GΩ", ">"}},
		{">= 2 Gohm", "resistance", "MΩ", Quantity{2e9, "GΩ", ">"}},
		{"≤3", "voltage", "V", Quantity{3, "", "<"}},
		{"5 mΩ", "resistance", "Ω", Quantity{0.005, "mΩ", ""}},
		{"5 MΩ", "resistance", "Ω", Quantity{5e6, "MΩ", ""}},
		{"5 mohm", "resistance", "Ω", Quantity{0.005, "mΩ", ""}},
		{"5 Mohm", "resistance", "Ω", Quantity{5e6, "MΩ", ""}},
		{"5 MOHM", "resistance", "Ω", Quantity{5e6, "MΩ", ""}},
		{"5 \u2126", "resistance", "Ω", Quantity{5, "Ω", ""}},      // the sign of the ohm
		{"5 \u03bcΩ", "resistance", "Ω", Quantity{5e-6, "µΩ", ""}}, // mu the letter, not the sign
		{"5 uohm", "resistance", "Ω", Quantity{5e-6, "µΩ", ""}},
		{"40 Nm", "torque", "N·m", Quantity{40, "N·m", ""}},
		{"40 N m", "torque", "N·m", Quantity{40, "N·m", ""}},
		{"40 NM", "torque", "N·m", Quantity{40, "N·m", ""}},
		{"40 n.m", "torque", "N·m", Quantity{40, "N·m", ""}},
		{"800 kVA", "apparent power", "", Quantity{800e3, "kVA", ""}},
		{"2 min", "duration", "s", Quantity{120, "min", ""}},
		{"2 MIN", "duration", "s", Quantity{120, "min", ""}},
		{"4.8 %", "share", "", Quantity{4.8, "%", ""}},
		{"6.2 BAR", "pressure", "kPa", Quantity{620, "bar", ""}},
		{"580", "pressure", "kPa", Quantity{580, "", ""}},
		{"50 kVAr", "reactive power", "var", Quantity{50e3, "kvar", ""}},
		{"1485 rpm", "rotational speed", "", Quantity{1485, "1/min", ""}},
		{"1485 1/min", "rotational speed", "", Quantity{1485, "1/min", ""}},
		{"1485 r/min", "rotational speed", "", Quantity{1485, "1/min", ""}},
		{"0.21 uF", "capacitance", "nF", Quantity{0.21, "µF", ""}},
		{"210", "capacitance", "nF", Quantity{0.21, "", ""}},
		{"<15 ppm", "concentration", "", Quantity{15, "ppm", "<"}},
		{"20 F", "temperature", "°C", Quantity{-20.0 / 3, "°F", ""}}, // no farad
		{"20 C", "temperature", "°C", Quantity{20, "°C", ""}},
	} {
		got, err := ParseQuantity(c.typed, c.of, c.bare)
		if err != nil || got.Unit != c.want.Unit || got.Bound != c.want.Bound || !(math.Abs(got.Value-c.want.Value) <= 1e-12*math.Abs(c.want.Value)) {
			t.Errorf("%q as %s is %+v, %v; want %+v", c.typed, c.of, got, err, c.want)
		}
	}
}

// NIST SP 811 (2008), B.8: factors exact by definition, and the products stated
// there or worked from them; 0 °C is 273.15 K and 32 °F by definition.
func TestParseQuantity_conversions(t *testing.T) {
	for _, c := range []struct {
		typed, of string
		want      float64
	}{
		{"26.5 lbf.ft", "torque", 26.5 * 4.4482216152605 * 0.3048},
		{"1 lbf·ft", "torque", 1.3558179483314004},
		{"40 lbf·in", "torque", 4.519393},
		{"240 lbf in", "torque", 27.116359},
		{"428 lbf·in", "torque", 48.3575}, // a manual prints 22 N·m beside it, which is wrong
		{"1 kgf·m", "torque", 9.80665},
		{"1 kgf.cm", "torque", 0.0980665},
		{"1 ozf·in", "torque", 0.00706155181422604375},
		{"25 °C", "temperature", 25},
		{"298.15 K", "temperature", 25},
		{"77 °F", "temperature", 25},
		{"-40 °F", "temperature", -40},
		{"1 h", "duration", 3600},
		{"1 in", "length", 0.0254},
	} {
		got, err := ParseQuantity(c.typed, c.of, "")
		if err != nil || !(math.Abs(got.Value-c.want) <= 1e-6*math.Abs(c.want)) {
			t.Errorf("%q is %v, %v; want %v", c.typed, got.Value, err, c.want)
		}
	}
}

func TestParseQuantity_refused(t *testing.T) {
	for _, c := range []struct{ typed, of, bare, says string }{
		{"400 A", "voltage", "V", `unit "A" is a current; a voltage in V, mV, kV is wanted`},
		{"400 volts", "voltage", "V", `unit "volts" is not known; a voltage in V, mV, kV is wanted`},
		{"400", "voltage", "", `"400" has no unit; a voltage in V, mV, kV is wanted`},
		{"1,234 V", "voltage", "V", "is read two ways"},
		{"NaN V", "voltage", "V", "no number"},
		{"inf V", "voltage", "V", "no number"},
		{"0x10 V", "voltage", "V", "is not known"},
		{"1_000 V", "voltage", "V", "is not known"},
		{"1 000 V", "voltage", "V", "is not known"},
		{"V", "voltage", "V", "no number"},
		{"", "voltage", "V", "no number"},
		{"> ", "voltage", "V", "no number"},
		{">>2 V", "voltage", "V", "no number"},
		{"2 V 3", "voltage", "V", "is not known"},
		{"400 V V", "voltage", "V", "is not known"},
		// m and M are 10⁹ apart, also where only one of them is a unit here.
		{"5 MV", "voltage", "V", "is not known"},
		{"5 MA", "current", "A", "is not known"},
		{"5 MHz", "frequency", "Hz", "is not known"},
		{"5 mW", "power", "W", "is not known"},
		{"5 mva", "apparent power", "VA", "is not known"},
		{"5 nm", "torque", "N·m", `unit "nm" is nanometres; a torque in N·m, kN·m`},
		{"5 Ms", "duration", "s", "is not known"},
		{"5 mvar", "reactive power", "var", "is not known"},
		{"5 mbar", "pressure", "kPa", "is not known"},
		{"5 F", "capacitance", "µF", `unit "F" is a temperature; a capacitance in µF, nF is wanted`},
		{"15001/min", "rotational speed", "", "is not known"},
		{"65 dB(A)", "level", "dB", "is not known"}, // another quantity
		{"40 N", "torque", "N·m", `unit "N" is a force; a torque in`},
		{"40 Nm", "force", "N", `unit "Nm" is a torque; a force in`},
		{"5 MM", "length", "m", "is not known"},
	} {
		got, err := ParseQuantity(c.typed, c.of, c.bare)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%q as %s is %+v, %v; want an error that says %q", c.typed, c.of, got, err, c.says)
		}
	}
}

// Every unit is found by its symbol, prints back, and stands under one quantity.
func TestUnits_table(t *testing.T) {
	for _, u := range Units {
		got, err := ParseQuantity("7 "+u.Symbol, u.Of, "")
		if err != nil || got.Unit != u.Symbol {
			t.Errorf("7 %s is %+v, %v", u.Symbol, got, err)
		}
		if back := FromBase(got.Value, u.Symbol); !(math.Abs(back-7) <= 1e-9) {
			t.Errorf("7 %s comes back as %v", u.Symbol, back)
		}
		if QuantityOf(u.Symbol) != u.Of {
			t.Errorf("%s is a %s and a %s", u.Symbol, u.Of, QuantityOf(u.Symbol))
		}
		if base := BaseUnit(u.Of); FromBase(1, base) != 1 {
			t.Errorf("base unit %s of %s has a factor", base, u.Of)
		}
	}
	for typed, symbol := range Spellings {
		if _, ok := BySymbol(symbol); !ok {
			t.Errorf("%q is spelt for %q, which is no unit", typed, symbol)
		}
	}
}

func TestParseAmount(t *testing.T) {
	for typed, want := range map[string]Amount{
		"600 V": {600, "voltage", "V"}, "40 Nm": {40, "torque", "N·m"}, "5 mΩ": {0.005, "resistance", "mΩ"}, "0.1 °C": {0.1, "temperature", "°C"},
		"6 bar": {600, "pressure", "bar"}, "1500 1/min": {1500, "rotational speed", "1/min"}, "40 N": {40, "force", "N"}, "5 F": {-15, "temperature", "°F"},
	} {
		if got, err := ParseAmount(typed); err != nil || got != want {
			t.Errorf("%q is %+v, %v; want %+v", typed, got, err, want)
		}
	}
	for typed, says := range map[string]string{
		"600": "a number with a known unit is wanted", "600 volts": "a number with a known unit is wanted", ">600 V": "is a bound", "": "a number with a known unit is wanted", "V": "no number",
	} {
		if got, err := ParseAmount(typed); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q is %+v, %v; want an error that says %q", typed, got, err, says)
		}
	}
}

func FuzzParseQuantity(f *testing.F) {
	for _, s := range []string{"0.249 kV", "249", ">2 GΩ", "26.5 lbf.ft", "1,234 V", "−5 °C", "5 mΩ", "5 MΩ", "1e99 TΩ", "< 3", "77 °F", "ſ", "1 \u212a", "\xff"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, u := range Units {
			q, err := ParseQuantity(s, u.Of, u.Symbol)
			if err != nil {
				if q != (Quantity{}) {
					t.Errorf("%q gives %+v beside an error", s, q)
				}
				continue
			}
			if math.IsNaN(q.Value) || math.IsInf(q.Value, 0) {
				t.Errorf("%q is read as %v", s, q.Value)
			}
			if q.Unit != "" && QuantityOf(q.Unit) != u.Of {
				t.Errorf("%q as %s is in %s", s, u.Of, q.Unit)
			}
			if q.Bound != "" && q.Bound != ">" && q.Bound != "<" {
				t.Errorf("%q has bound %q", s, q.Bound)
			}
		}
		if a, err := ParseAmount(s); err == nil && (math.IsNaN(a.Value) || math.IsInf(a.Value, 0) || QuantityOf(a.Unit) != a.Of) {
			t.Errorf("%q is the amount %+v", s, a)
		}
	})
}
