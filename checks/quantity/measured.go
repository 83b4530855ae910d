package quantity

import (
	"fmt"
	"reflect"
	"strings"
)

// The types below are what plan files hold. A measured type demands its unit in
// the file and keeps the value in base units.
type (
	Volt        float64
	Ampere      float64
	Hertz       float64
	VoltAmpere  float64
	Watt        float64
	Ohm         float64
	NewtonMetre float64
	Celsius     float64
	Second      float64
	Metre       float64
	Percent     float64
	Degree      float64
	Microfarad  float64
)

var Measured = map[reflect.Type]string{
	reflect.TypeFor[Volt](): "voltage", reflect.TypeFor[Ampere](): "current", reflect.TypeFor[Hertz](): "frequency",
	reflect.TypeFor[VoltAmpere](): "apparent power", reflect.TypeFor[Watt](): "power", reflect.TypeFor[Ohm](): "resistance",
	reflect.TypeFor[NewtonMetre](): "torque", reflect.TypeFor[Celsius](): "temperature", reflect.TypeFor[Second](): "duration",
	reflect.TypeFor[Metre](): "length", reflect.TypeFor[Percent](): "share", reflect.TypeFor[Degree](): "angle",
	reflect.TypeFor[Microfarad](): "capacitance",
}

// Amount is a measured value of any quantity, told by its unit: 600 V, 40 N·m.
type Amount struct {
	Value float64 // base unit
	Of    string  // the quantity
	Unit  string  // as typed
}

// ParseAmount reads a value whose unit tells what it measures.
func ParseAmount(s string) (Amount, error) {
	_, symbol := cutNumber(strings.TrimLeft(s, "<>=≤≥ \t"))
	if known, ok := Spellings[symbol]; ok {
		symbol = known
	}
	u, ok := BySymbol(symbol)
	if !ok {
		return Amount{}, fmt.Errorf("%q: a number with a known unit is wanted, such as 600 V, 40 N·m or 5 mΩ", s)
	}
	q, err := ParseQuantity(s, u.Of, "")
	if err == nil && q.Bound != "" {
		err = fmt.Errorf("%q is a bound; one value is wanted", s)
	}
	if err != nil {
		return Amount{}, err
	}
	return Amount{Value: q.Value, Of: u.Of, Unit: u.Symbol}, nil
}
