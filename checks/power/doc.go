// Package power is the numeric core: phasors, sequence components, voltage triangles, transformers and the network they
// form, heating curves.
//
// It knows no check, plan or limit: it turns numbers into numbers, and trouble in the numbers into one of its named errors
// (ErrVolts, ErrTriangle, ErrFlat, ErrImpedance, ErrSource, ErrConverge, ErrFault, ErrGroup, ErrCurve), never into a silent NaN.
// Nothing here reads a clock, a file or a random number, and no argument is written to.
//
// Conventions, unless a comment says otherwise:
//
//	volts, amperes, ohms, watts and volt-amperes in plain SI, r.m.s.
//	ll    volts between conductors in the order L1-L2, L2-L3, L3-L1
//	ln    volts to neutral in the order L1, L2, L3
//	Z     ohms per phase on the low-voltage side
//	angles in degrees, positive = leading; results in (-180, 180]
//	phase sequence L1-L2-L3 is positive: L2 lags L1 by 120°
//
// The figures help a competent person to judge a reading. They authorise nothing: local rules, the permit and the person
// licensed to decide come first.
package power
