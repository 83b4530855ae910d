package power_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"handback/checks/power"
)

func TestSupply_unknownRatio(t *testing.T) {
	// IEC 60909-0: with R_Q = 0.1 X_Q, X_Q = 0.995 Z_Q.
	z := must[complex128](t)(power.Supply{FaultVA: 500e6, C: 1.1, RX: power.SupplyRX}.Impedance(400))
	near(t, "Z", cmplx.Abs(z), 1.1*400*400/500e6, 1e-12)
	within(t, "X/Z", imag(z)/cmplx.Abs(z), 0.995, 5e-4)
	near(t, "R/X", real(z)/imag(z), 0.1, 1e-12)
	z = must[complex128](t)(power.Supply{FaultVA: math.Inf(1), C: 1, RX: 0.1}.Impedance(400))
	withinZ(t, "no impedance", z, 0, 0)
}

// worstPeak finds, from the differential equation's exact solution, the greatest current after a short circuit at any moment of the
// voltage wave, over the amplitude of the steady current.
func worstPeak(rx float64) float64 {
	phi := math.Atan2(1, rx)
	peak := 0.0
	for a := 0.0; a < math.Pi; a += math.Pi / 360 {
		for wt := 0.0; wt < 2*math.Pi; wt += math.Pi / 360 {
			peak = math.Max(peak, math.Abs(math.Sin(wt+a-phi)-math.Exp(-wt*rx)*math.Sin(a-phi)))
		}
	}
	return peak
}

func TestKappa_followsTheTransient(t *testing.T) {
	for _, rx := range []float64{0, 0.02, 0.05, 0.1, 0.2, 0.3, 0.5, 0.8, 1.2} {
		near(t, fmt.Sprint("κ at R/X ", rx), power.Kappa(complex(rx, 1)), worstPeak(rx), 0.02)
	}
	near(t, "no reactance", power.Kappa(1), 1.02, 1e-15)
	near(t, "no resistance", power.Kappa(1i), 2, 1e-15)
	near(t, "R/X 0.1", power.Kappa(complex(0.1, 1)), 1.02+0.98*math.Exp(-0.3), 1e-15)
}

// faultCase is two 1000 kVA units with R/X of rx behind 250 MVA.
func faultCase(rx float64) power.FaultCase {
	u := power.FaultUnit{Transformer: power.Transformer{RatedVA: 1e6, ImpedancePct: 5, LoadLossW: 0.05 * rx / math.Hypot(1, rx) * 1e6, NoLoadLL: 415}, RatedLV: 415}
	return power.FaultCase{
		Supply: power.Supply{FaultVA: 250e6, C: 1.1, RX: power.SupplyRX}, Units: []power.FaultUnit{u, u},
		NominalLV: 400, C: 1.05,
	}
}

func TestFaultLevel_parts(t *testing.T) {
	c := faultCase(0.2)
	f := must[power.Fault](t)(power.FaultLevel(c))
	base := 415.0 * 415 / 1e6
	zq := cmplx.Rect(1.1*415*415/250e6, math.Atan2(1, 0.1))
	zt := cmplx.Rect(0.05*base, math.Atan2(1, 0.2)) / 2
	withinZ(t, "Z", f.Z, zq+zt, 1e-12)
	near(t, `I"k`, f.InitialA, 1.05*400/math.Sqrt(3)/cmplx.Abs(zq+zt), 1e-12)
	near(t, "κ", f.Kappa, power.Kappa(zq+zt), 1e-12)
	near(t, "ip", f.PeakA, f.Kappa*math.Sqrt2*f.InitialA, 1e-12)

	// The correction factor, by hand: 0.95·1.05/(1 + 0.6·0.05·x/z).
	c.Corrected = true
	k := 0.95 * 1.05 / (1 + 0.6*0.05*math.Sin(math.Atan2(1, 0.2)))
	g := must[power.Fault](t)(power.FaultLevel(c))
	withinZ(t, "Z corrected", g.Z, zq+complex(k, 0)*zt, 1e-12)
	if !(g.InitialA > f.InitialA) {
		t.Errorf("the correction lowers the current from %v to %v", f.InitialA, g.InitialA)
	}
}

func TestFaultLevel_resistiveBranches(t *testing.T) {
	c := faultCase(0.5)
	f := must[power.Fault](t)(power.FaultLevel(c))
	near(t, "κ of two", f.Kappa, 1.15*power.Kappa(f.Z), 1e-12)
	c.Units = c.Units[:1]
	f = must[power.Fault](t)(power.FaultLevel(c))
	near(t, "κ of one", f.Kappa, power.Kappa(f.Z), 1e-12)
	// At most 1.8: one resistive unit beside a large reactive one.
	c = faultCase(0.5)
	c.Units[1].RatedVA, c.Units[1].LoadLossW = 10e6, 0
	f = must[power.Fault](t)(power.FaultLevel(c))
	if plain := power.Kappa(f.Z); plain < 1.6 {
		t.Fatalf("plain κ %v does not reach the ceiling", plain)
	}
	near(t, "κ at its ceiling", f.Kappa, math.Max(1.8, power.Kappa(f.Z)), 1e-12)
}

func TestFaultLevel_domain(t *testing.T) {
	for name, spoil := range map[string]func(*power.FaultCase){
		"no unit":           func(c *power.FaultCase) { c.Units = nil },
		"nominal":           func(c *power.FaultCase) { c.NominalLV = math.NaN() },
		"factor":            func(c *power.FaultCase) { c.C = 0 },
		"supply power":      func(c *power.FaultCase) { c.Supply.FaultVA = 0 },
		"supply power < 0":  func(c *power.FaultCase) { c.Supply.FaultVA = -250e6 },
		"supply power NaN":  func(c *power.FaultCase) { c.Supply.FaultVA = math.NaN() },
		"supply factor":     func(c *power.FaultCase) { c.Supply.C = 0 },
		"supply R/X":        func(c *power.FaultCase) { c.Supply.RX = -0.1 },
		"supply R/X NaN":    func(c *power.FaultCase) { c.Supply.RX = math.NaN() },
		"supply R/X no end": func(c *power.FaultCase) { c.Supply.RX = math.Inf(1) },
	} {
		c := faultCase(0.2)
		spoil(&c)
		_, err := power.FaultLevel(c)
		refused(t, name, err, power.ErrFault)
	}
	for name, spoil := range map[string]func(*power.FaultUnit){
		"second unit": func(u *power.FaultUnit) { u.ImpedancePct = 0 },
		"its volts":   func(u *power.FaultUnit) { u.RatedLV = 0 },
	} {
		c := faultCase(0.2)
		spoil(&c.Units[1])
		_, err := power.FaultLevel(c)
		refused(t, name, err, power.ErrImpedance)
	}
}

// Units of 400 and 416 V stand each on its own volts, whichever is named first: 2 × 1600 kVA, 6 %, 1 % of load loss, no supply
// impedance and c = 1.05 give K_T = 0.9975/(1 + 0.6·√0.0035) = 0.963268 and
// I"k = 1.05·400/√3·S·(1/400² + 1/416²)/(0.06·K_T) = 80 743 A (by hand).
func TestFaultLevel_unlikeVolts(t *testing.T) {
	unit := func(volts float64) power.FaultUnit {
		return power.FaultUnit{Transformer: power.Transformer{RatedVA: 1600e3, ImpedancePct: 6, LoadLossW: 16e3}, RatedLV: volts}
	}
	c := power.FaultCase{Supply: power.Supply{FaultVA: math.Inf(1), C: 1.1, RX: power.SupplyRX}, NominalLV: 400, C: 1.05, Corrected: true}
	k := 0.95 * 1.05 / (1 + 0.6*math.Sqrt(0.06*0.06-0.01*0.01))
	want := 1.05 * 400 / math.Sqrt(3) * 1600e3 * (1/(400.0*400) + 1/(416.0*416)) / (0.06 * k)
	within(t, `I"k by hand`, want, 80743, 0.5)
	for _, supply := range []float64{math.Inf(1), 250e6} {
		c.Supply.FaultVA = supply
		c.Units = []power.FaultUnit{unit(400), unit(416)}
		one := must[power.Fault](t)(power.FaultLevel(c)).InitialA
		c.Units = []power.FaultUnit{unit(416), unit(400)}
		near(t, `I"k in the other order`, must[power.Fault](t)(power.FaultLevel(c)).InitialA, one, 1e-12)
		if math.IsInf(supply, 1) {
			near(t, `I"k`, one, want, 1e-12)
		}
	}
}
