package power

import (
	"fmt"
	"math"
	"math/cmplx"
)

// SupplyRX is the R/X ratio that IEC 60909-0 permits for a high-voltage supply whose ratio is unknown:
// R_Q = 0.1·X_Q with X_Q = 0.995·Z_Q (from memory of IEC 60909-0:2016, 6.2).
const SupplyRX = 0.1

// Supply is the high-voltage network behind the transformers.
//
//	FaultVA   initial symmetrical short-circuit power S"kQ at the transformers' high-voltage terminals, VA, > 0;
//	          +Inf for a supply of no impedance, which gives the greatest current
//	C         voltage factor that S"kQ was worked out with, > 0; 1.1 for the greatest current above 1 kV (IEC 60909-0 Table 1)
//	RX        resistance over reactance, ≥ 0; SupplyRX when unknown
type Supply struct{ FaultVA, C, RX float64 }

// Impedance returns the supply in ohms per phase on a low voltage of uref volts:
//
//	Z = C·uref²/FaultVA     X = Z/√(1 + RX²)     R = RX·X
//
//	uref   rated low voltage of a transformer, V, > 0 (its high voltage is taken as the nominal voltage of the supply)
//
// ErrFault when a value is outside its range. Source: IEC 60909-0:2016, 6.2.
func (s Supply) Impedance(uref float64) (complex128, error) {
	if !(s.FaultVA > 0) || !isPositive(s.C, uref) || !isFinite(s.RX) || !(s.RX >= 0) {
		return 0, fmt.Errorf("%w: supply of %g VA, voltage factor %g, R/X %g, on %g V: want power, factor and volts above zero, R/X zero or above",
			ErrFault, s.FaultVA, s.C, s.RX, uref)
	}
	x := s.C * uref / s.FaultVA * uref / math.Hypot(1, s.RX)
	return complex(s.RX*x, x), nil
}

// FaultCase is a three-phase short circuit on a low-voltage bar fed by transformers in parallel from one supply.
//
//	Supply      the network above
//	Units       the transformers in parallel, one or more, each with its own rated low voltage
//	NominalLV   nominal voltage of the bar, V, > 0
//	C           voltage factor, > 0: 1.05 for the greatest low-voltage current on a ±6 % system, 1.10 on ±10 % (IEC 60909-0 Table 1)
//	Corrected   multiply each transformer by its correction factor K_T; false gives the plain division, some 2 to 5 % less current
type FaultCase struct {
	Supply    Supply
	Units     []FaultUnit
	NominalLV float64
	C         float64
	Corrected bool
}

// FaultUnit is a transformer of a FaultCase.
//
//	RatedLV   its rated low voltage, on which its ohms are taken, V, > 0; its rated high voltage is taken as the supply's nominal voltage
type FaultUnit struct {
	Transformer
	RatedLV float64
}

// Fault is the outcome of a FaultCase.
//
//	Z          impedance to the fault, ohms per phase
//	InitialA   initial symmetrical short-circuit current I"k, A r.m.s.
//	Kappa      peak factor, meshed-network allowance included
//	PeakA      peak short-circuit current ip, A
//
// The contribution of motors is not in it.
type Fault struct {
	Z        complex128
	InitialA float64
	Kappa    float64
	PeakA    float64
}

// FaultLevel returns the short-circuit current of a case:
//
//	1/Z = Y0 − q·Y1²/(1 + q·Y2)     Yn = Σ U_T^n/(K_T·Z_T)     q = Z_Q/U²
//	I"k = C·NominalLV/(√3·|Z|)      ip = κ·√2·I"k
//	K_T = 0.95·C/(1 + 0.6·x_T) when Corrected, else 1; x_T the reactance of the unit on its own rating and low voltage U_T
//	κ = 1.02 + 0.98·e^(−3R/X); with two or more units, one of them with R/X ≥ 0.3, 1.15 times that, at most 1.8
//
// The supply stands once on the high-voltage side, and every unit reaches it by its own ratio; with like low voltages this is
// Z = Z_Q + 1/Σ(1/(K_T·Z_T)), and the order of the units never matters. The allowance for parallel branches is method (b) of IEC 60909-0. ErrFault for no unit or a value out of range, ErrImpedance
// for a transformer that is. Source: IEC 60909-0:2016, 6.2, 6.3.3 (K_T), 7.2 (I"k), 8.1 (κ) (from memory of the clause numbers).
func FaultLevel(c FaultCase) (Fault, error) {
	if len(c.Units) == 0 || !isPositive(c.NominalLV, c.C) {
		return Fault{}, fmt.Errorf("%w: %d transformers, nominal %g V, voltage factor %g: want one or more, volts and factor above zero",
			ErrFault, len(c.Units), c.NominalLV, c.C)
	}
	q, err := c.Supply.Impedance(1)
	if err != nil {
		return Fault{}, err
	}
	var y [3]complex128
	resistive := false
	for i, t := range c.Units {
		zt, err := t.Impedance(t.RatedLV)
		if err != nil {
			return Fault{}, fmt.Errorf("transformer %d of the fault case: %w", i+1, err)
		}
		if c.Corrected {
			zt *= complex(correction(t.Transformer, zt, t.RatedLV, c.C), 0)
		}
		for n := range y {
			y[n] += complex(math.Pow(t.RatedLV, float64(n)), 0) / zt
		}
		resistive = resistive || !(real(zt) < 0.3*imag(zt))
	}
	z := 1 / (y[0] - q*y[1]*y[1]/(1+q*y[2]))
	k := Kappa(z)
	if len(c.Units) > 1 && resistive {
		k = math.Max(k, math.Min(1.15*k, 1.8))
	}
	f := Fault{Z: z, InitialA: c.C * c.NominalLV / (math.Sqrt(3) * cmplx.Abs(z)), Kappa: k}
	f.PeakA = k * math.Sqrt2 * f.InitialA
	if !isFiniteZ(z) || !isPositive(f.InitialA, f.PeakA) {
		return Fault{}, fmt.Errorf("%w: impedance %g ohms gives %g A, peak %g A", ErrFault, z, f.InitialA, f.PeakA)
	}
	return f, nil
}

// Kappa returns the peak factor of a short circuit through the impedance z:
//
//	κ = 1.02 + 0.98·e^(−3R/X)
//
// R and X as in z, ≥ 0, ohms. A z without reactance gives 1.02, one without resistance 2.00; NaN gives NaN, which FaultLevel
// refuses. Source: IEC 60909-0:2016, 8.1.
func Kappa(z complex128) float64 {
	if imag(z) == 0 {
		return 1.02
	}
	return 1.02 + float64(0.98*math.Exp(-3*real(z)/imag(z)))
}

// correction returns the factor K_T of one transformer of zt ohms on uref volts.
func correction(t Transformer, zt complex128, uref, c float64) float64 {
	x := imag(zt) * t.RatedVA / uref / uref
	return 0.95 * c / (1 + float64(0.6*x))
}
