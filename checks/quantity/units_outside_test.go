package quantity_test

import (
	"fmt"
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"handback/checks/quantity"
	"handback/testdata/outside"
)

// Every torque unit, and the other units that are not powers of ten of SI, are
// converted again by GNU units.
func TestUnitsAgainstGNUUnits(t *testing.T) {
	path := outside.Tool(t, "units", "--terse", "1 ft", "m")
	theirs := map[string]string{
		"N·m": "%s N m", "kN·m": "%s kN m", "lbf·ft": "%s lbf ft", "lbf·in": "%s lbf in", "kgf·m": "%s kgf m", "kgf·cm": "%s kgf cm", "ozf·in": "%s oz force in",
		"kvar": "%s kW", "Mvar": "%s MW", "nF": "%s nF", "µF": "%s microfarad", "bar": "%s bar", "kPa": "%s kPa", "N": "%s kg m/s^2", "kN": "%s kN", "1/min": "%s /min",
		"m/s": "%s m/s", "l/min": "%s liter/min", "lx": "%s lumen/m^2", "ppm": "%s ppm",
		"in": "%s in", "min": "%s min", "h": "%s hr", "°F": "tempF(%s)", "K": "tempK(%s)",
	}
	base := map[string]string{"torque": "N m", "length": "m", "duration": "s", "temperature": "tempC",
		"reactive power": "W", "capacitance": "uF", "pressure": "1000 N/m^2", "force": "N", "rotational speed": "1/(60 s)", "speed": "m/s", "flow": "dm^3/(60 s)",
		"illuminance": "lx", "concentration": "mg/kg"} // a var is a watt to units
	for _, u := range quantity.UnitsOf("torque") {
		if theirs[u] == "" {
			t.Errorf("%s is not compared", u)
		}
	}
	for unit, expression := range theirs {
		of := quantity.QuantityOf(unit)
		for _, x := range []string{"1", "29.5", "428", "0.037", "98765.4"} {
			out, err := exec.Command(path, "--terse", "--output-format", "%.17g", fmt.Sprintf(expression, x), base[of]).Output()
			if err != nil {
				t.Fatalf("%s %s: %v: %s", x, unit, err, out)
			}
			want, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
			if err != nil {
				t.Fatalf("%s %s: %q: %v", x, unit, out, err)
			}
			q, err := quantity.ParseQuantity(x+" "+unit, of, "")
			tol := 1e-14 * math.Abs(want)
			if of == "temperature" {
				tol = 1e-12 * math.Max(math.Abs(want), 300) // offsets cancel digits
			}
			if err != nil || !(math.Abs(q.Value-want) <= tol) {
				t.Errorf("%s %s is %.17g (%v), GNU units says %.17g", x, unit, q.Value, err, want)
			}
		}
	}
}
