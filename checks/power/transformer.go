package power

import (
	"fmt"
	"math"
)

// Transformer is one three-phase transformer seen from its low-voltage side.
//
//	RatedVA        rated power, VA, > 0
//	ImpedancePct   short-circuit impedance at rated current, % of rated, > 0
//	LoadLossW      load loss at rated current, W, ≥ 0; 0 makes the impedance a pure reactance
//	NoLoadLL       no-load volts between low-voltage conductors on the tap in use, V, > 0
//	PhaseDeg       angle of its low-voltage system against the common reference, degrees
type Transformer struct {
	RatedVA      float64
	ImpedancePct float64
	LoadLossW    float64
	NoLoadLL     float64
	PhaseDeg     float64
}

// Impedance returns the short-circuit impedance in ohms per phase on a low voltage of uref volts:
//
//	z = ImpedancePct/100     r = LoadLossW/RatedVA     x = √(z² − r²)     Z = (r + jx)·uref²/RatedVA
//
//	uref   rated low voltage between conductors, V, > 0
//
// ErrImpedance for a zero, negative, NaN or infinite rating, impedance or uref, a negative or NaN load loss, and a
// short-circuit impedance below its own resistance. Source: IEC 60076-1, 3.7 (from memory of the clause number).
func (t Transformer) Impedance(uref float64) (complex128, error) {
	if !isPositive(t.RatedVA, t.ImpedancePct, uref) {
		return 0, fmt.Errorf("%w: rating %g VA, impedance %g %%, on %g V: want each finite and above zero", ErrImpedance, t.RatedVA, t.ImpedancePct, uref)
	}
	if !(t.LoadLossW >= 0) || math.IsInf(t.LoadLossW, 1) {
		return 0, fmt.Errorf("%w: load loss %g W, want a finite number, zero or above", ErrImpedance, t.LoadLossW)
	}
	z, r := t.ImpedancePct/100, t.LoadLossW/t.RatedVA
	if !(r <= z) {
		return 0, fmt.Errorf("%w: impedance %g %% is below the resistance %g %% that the load loss of %g W gives; check the rating plate",
			ErrImpedance, t.ImpedancePct, 100*r, t.LoadLossW)
	}
	x := math.Sqrt((z - r) * (z + r))
	base := uref / t.RatedVA * uref
	ohms := complex(r*base, x*base)
	if !isFiniteZ(ohms) || ohms == 0 {
		return 0, fmt.Errorf("%w: %g VA and %g %% on %g V give %g ohms", ErrImpedance, t.RatedVA, t.ImpedancePct, uref, ohms)
	}
	return ohms, nil
}

// Source returns the transformer as a voltage behind an impedance, per phase:
//
//	E = (NoLoadLL/√3)∠PhaseDeg     Z = Impedance(uref)
//
// ErrVolts for no-load volts that are not above zero or an angle that is not finite; ErrImpedance as for Impedance.
func (t Transformer) Source(uref float64) (Source, error) {
	z, err := t.Impedance(uref)
	if err != nil {
		return Source{}, err
	}
	if !isPositive(t.NoLoadLL) || !isFinite(t.PhaseDeg) {
		return Source{}, fmt.Errorf("%w: no-load %g V at %g degrees, want volts above zero and a finite angle", ErrVolts, t.NoLoadLL, t.PhaseDeg)
	}
	return Source{E: Polar(t.NoLoadLL/math.Sqrt(3), t.PhaseDeg), Z: z}, nil
}

// RatedAmps returns the rated current on a low voltage of uref volts:
//
//	I = RatedVA / (√3·uref)
//
// ErrImpedance for a rating or uref that is not finite and above zero.
func (t Transformer) RatedAmps(uref float64) (float64, error) {
	if !isPositive(t.RatedVA, uref) {
		return 0, fmt.Errorf("%w: rating %g VA on %g V: want each finite and above zero", ErrImpedance, t.RatedVA, uref)
	}
	return t.RatedVA / (math.Sqrt(3) * uref), nil
}

// LVNoLoad returns the no-load low voltage of a transformer on one tap:
//
//	U_lv = uHV · (uLVRated / uHVTap)
//
//	uHV        high voltage present between conductors, V, ≥ 0
//	uLVRated   rated low voltage between conductors, V, > 0
//	uHVTap     high voltage of the tap in use, V, > 0
//
// ErrVolts for anything outside that. A higher tap voltage gives a lower low voltage. Source: IEC 60076-1, 5.4 (from memory of the clause number).
func LVNoLoad(uHV, uLVRated, uHVTap float64) (float64, error) {
	if !isFinite(uHV) || !(uHV >= 0) || !isPositive(uLVRated, uHVTap) {
		return 0, fmt.Errorf("%w: high voltage %g V, rated low voltage %g V, tap %g V: want finite volts, the rated ones above zero",
			ErrVolts, uHV, uLVRated, uHVTap)
	}
	return uHV * (uLVRated / uHVTap), nil
}
