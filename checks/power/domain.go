package power

import (
	"errors"
	"fmt"
	"math"
)

// The named errors. Each is wrapped with the value met and what is accepted; test with errors.Is.
var (
	ErrVolts     = errors.New("volts out of domain")
	ErrTriangle  = errors.New("volts do not close a triangle")
	ErrFlat      = errors.New("triangle is flat")
	ErrImpedance = errors.New("impedance out of domain")
	ErrSource    = errors.New("sources out of domain")
	ErrConverge  = errors.New("iteration did not converge")
	ErrFault     = errors.New("fault case out of domain")
	ErrGroup     = errors.New("not a vector group")
	ErrCurve     = errors.New("readings give no heating curve")
)

// closeSlack is the relative slack, of the largest value, within which three lengths that just fail to close
// are taken as flat: it covers binary rounding, not a reading error.
const closeSlack = 1e-9

// isFinite reports whether every x is a number, neither NaN nor infinite.
func isFinite(xs ...float64) bool {
	for _, x := range xs {
		if x-x != 0 { // of NaN and ±Inf no number
			return false
		}
	}
	return true
}

// isPositive reports whether every x is finite and above zero.
func isPositive(xs ...float64) bool {
	for _, x := range xs {
		if !(x > 0) || math.IsInf(x, 1) {
			return false
		}
	}
	return true
}

// isFiniteZ reports whether every z is finite in both parts.
func isFiniteZ(zs ...complex128) bool {
	for _, z := range zs {
		if !isFinite(real(z), imag(z)) {
			return false
		}
	}
	return true
}

// largest returns the greatest of three volts, or ErrVolts unless all are finite, none is below zero and one is above it.
func largest(v [3]float64) (float64, error) {
	top := 0.0
	for i, x := range v {
		if !(x >= 0) || math.IsInf(x, 1) {
			return 0, fmt.Errorf("%w: value %d of %g is %g, want a finite number of volts, zero or above", ErrVolts, i+1, v, x)
		}
		top = math.Max(top, x)
	}
	if top == 0 {
		return 0, fmt.Errorf("%w: all three are zero, want at least one above zero", ErrVolts)
	}
	return top, nil
}

// checkSides returns the longest of three sides, or ErrVolts or ErrTriangle.
func checkSides(ll [3]float64) (float64, error) {
	top, err := largest(ll)
	if err != nil {
		return 0, err
	}
	// Summed in units of the longest side, so that no sum overflows.
	rest := -1.0
	for _, x := range ll {
		rest += x / top
	}
	if !(1 <= rest+closeSlack) {
		return 0, fmt.Errorf("%w: sides of %.5g, %.5g and %.5g V, want none longer than the other two together; read all three again", ErrTriangle, ll[0], ll[1], ll[2])
	}
	return top, nil
}
