package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"handback/checks/power"
)

func TestTransformer_Impedance(t *testing.T) {
	// 3 % and 4 % make 5 %: on 400 V and 1 MVA the base is 0.16 ohm.
	got := must[complex128](t)(power.Transformer{RatedVA: 1e6, ImpedancePct: 5, LoadLossW: 30e3}.Impedance(400))
	withinZ(t, "Z", got, complex(0.0048, 0.0064), 1e-15)
	// All resistance is the edge of the domain, and allowed.
	got = must[complex128](t)(power.Transformer{RatedVA: 1e6, ImpedancePct: 6.25, LoadLossW: 62500}.Impedance(400))
	withinZ(t, "pure resistance", got, 0.01, 1e-15)
}

func TestTransformer_domain(t *testing.T) {
	good := power.Transformer{RatedVA: 1e6, ImpedancePct: 5, LoadLossW: 10e3, NoLoadLL: 415}
	if _, err := good.Source(400); err != nil {
		t.Fatal(err)
	}
	bad := []float64{0, -1, math.NaN(), math.Inf(1), math.Inf(-1)}
	for _, x := range bad {
		for name, spoil := range map[string]func(*power.Transformer){
			"rating":    func(u *power.Transformer) { u.RatedVA = x },
			"impedance": func(u *power.Transformer) { u.ImpedancePct = x },
			"load loss": func(u *power.Transformer) { u.LoadLossW = x },
		} {
			if name == "load loss" && x == 0 {
				continue // a pure reactance, documented
			}
			u := good
			spoil(&u)
			_, err := u.Impedance(400)
			refused(t, fmt.Sprint(name, " ", x), err, power.ErrImpedance)
			_, err = u.Source(400)
			refused(t, fmt.Sprint("source, ", name, " ", x), err, power.ErrImpedance)
		}
		_, err := good.Impedance(x)
		refused(t, fmt.Sprint("uref ", x), err, power.ErrImpedance)
		_, err = good.RatedAmps(x)
		refused(t, fmt.Sprint("rated amps on ", x), err, power.ErrImpedance)
		u := good
		u.NoLoadLL = x
		_, err = u.Source(400)
		refused(t, fmt.Sprint("no-load volts ", x), err, power.ErrVolts)
		_, err = power.LVNoLoad(11000, x, 11000)
		refused(t, fmt.Sprint("rated low voltage ", x), err, power.ErrVolts)
		_, err = power.LVNoLoad(11000, 433, x)
		refused(t, fmt.Sprint("tap ", x), err, power.ErrVolts)
		if x != 0 {
			_, err = power.LVNoLoad(x, 433, 11000)
			refused(t, fmt.Sprint("high voltage ", x), err, power.ErrVolts)
		}
	}
	u := good
	u.PhaseDeg = math.NaN()
	_, err := u.Source(400)
	refused(t, "angle", err, power.ErrVolts)
	// kW typed where the plate gives W times ten: 5 % impedance, 6 % resistance.
	u = good
	u.LoadLossW = 60e3
	_, err = u.Impedance(400)
	refused(t, "below its own resistance", err, power.ErrImpedance)
}

func TestTransformer_Source(t *testing.T) {
	u := power.Transformer{RatedVA: 1e6, ImpedancePct: 5, NoLoadLL: 415, PhaseDeg: -30}
	s := must[power.Source](t)(u.Source(400))
	near(t, "E", cmplx.Abs(s.E), 415/math.Sqrt(3), 1e-12)
	near(t, "angle", power.Degrees(s.E), -30, 1e-12)
	withinZ(t, "Z", s.Z, 0.008i, 1e-15)
	near(t, "rated current", must[float64](t)(u.RatedAmps(400)), 1443.3756729740645, 1e-12)
}
