package power

import (
	"fmt"
	"math"
	"math/cmplx"
)

// Source is one incomer of a bar: a voltage behind an impedance, per phase.
//
//	E   no-load volts to neutral, V
//	Z   ohms in series, not zero
type Source struct{ E, Z complex128 }

// Solve returns the bar voltage and the current each source delivers when a load current is drawn from the bar they share:
//
//	V = (Σ Ei/Zi − I) / Σ 1/Zi     Ii = (Ei − V)/Zi
//
//	sources    one or more
//	load       I, A per phase, drawn from the bar; 0 at no load
//	bus        V, volts to neutral
//	currents   Ii, A, positive into the bar, in the order of sources; their sum is the load
//
// The load is a constant current. ErrSource when there is no source, a phasor is not finite, an impedance is zero or the
// admittances cancel. Source: nodal analysis of one bar (Millman).
func Solve(sources []Source, load complex128) (bus complex128, currents []complex128, err error) {
	b, err := NewBar(sources)
	if err != nil {
		return 0, nil, err
	}
	return b.solve(load)
}

// Bar is what sources feed together.
type Bar struct {
	sources            []Source
	driven, admittance complex128 // ΣE/Z and Σ1/Z
}

// NewBar refuses sources as Solve does.
func NewBar(sources []Source) (*Bar, error) {
	driven, admittance, err := gather(sources)
	return &Bar{sources, driven, admittance}, err
}

func (b *Bar) solve(load complex128) (bus complex128, currents []complex128, err error) {
	if !isFiniteZ(load) {
		return 0, nil, fmt.Errorf("%w: load %g A, want a finite current", ErrSource, load)
	}
	bus = (b.driven - load) / b.admittance
	currents = make([]complex128, len(b.sources))
	for i, s := range b.sources {
		currents[i] = (s.E - bus) / s.Z
	}
	if !isFiniteZ(bus) || !isFiniteZ(currents...) {
		return 0, nil, fmt.Errorf("%w: the network has no finite solution", ErrSource)
	}
	return bus, currents, nil
}

// SolveFactor is Solve for a load current whose power factor holds against the bar, where a meter reads it:
//
//	|V·Y + I·(cos φ − j·sin φ)| = |Σ Ei/Zi|     Y = Σ 1/Zi, V real and above zero
//
//	amps   I, A per phase, ≥ 0
//	pf     cos φ, lagging, 0 to 1
//
// ErrSource as for Solve, for a load or a power factor outside that and when the sources cancel; ErrConverge when the load is more than
// the sources can carry.
func SolveFactor(sources []Source, amps, pf float64) (bus complex128, currents []complex128, err error) {
	b, err := NewBar(sources)
	if err != nil {
		return 0, nil, err
	}
	return b.SolveFactor(amps, pf)
}

// SolveFactor is the function of that name.
func (b *Bar) SolveFactor(amps, pf float64) (bus complex128, currents []complex128, err error) {
	if !(amps >= 0) || !isFinite(amps) || !(pf >= 0 && pf <= 1) || b.driven == 0 {
		return 0, nil, fmt.Errorf("%w: load %g A at power factor %g, want amperes from zero, a factor of 0 to 1 and sources that do not cancel", ErrSource, amps, pf)
	}
	load := cmplx.Rect(amps, -math.Acos(pf))
	p, q := real(b.admittance*cmplx.Conj(b.admittance)), real(b.admittance*cmplx.Conj(load))
	c := (amps - cmplx.Abs(b.driven)) * (amps + cmplx.Abs(b.driven))
	volts := (math.Sqrt(float64(q*q)-float64(p*c)) - q) / p
	if !(c < 0) || !(volts > 0) {
		return 0, nil, fmt.Errorf("%w: load %g A at power factor %g on %d sources, want a load the sources can carry", ErrConverge, amps, pf, len(b.sources))
	}
	turn := b.driven / (complex(volts, 0)*b.admittance + load) // the bar's angle; its magnitude is 1
	return b.solve(load * turn)
}

// Circulating returns the current that two sources drive round their loop at no load:
//
//	I = (Ea − Eb) / (Za + Zb)
//
// in amperes, positive out of a and into b. The loop impedance is the sum of both, on the same voltage: 4 % difference over
// 2 % + 2 % is full rated current. ErrSource when a phasor is not finite or the loop impedance is zero.
func Circulating(a, b Source) (complex128, error) {
	loop := a.Z + b.Z
	if !isFiniteZ(a.E, b.E, loop) || loop == 0 {
		return 0, fmt.Errorf("%w: loop impedance %g ohms between %g V and %g V, want finite phasors and an impedance above zero", ErrSource, loop, a.E, b.E)
	}
	i := (a.E - b.E) / loop
	if !isFiniteZ(i) {
		return 0, fmt.Errorf("%w: %g V and %g V over %g ohms give no finite current", ErrSource, a.E, b.E, loop)
	}
	return i, nil
}

// gather returns ΣE/Z and Σ1/Z.
func gather(sources []Source) (driven, admittance complex128, err error) {
	if len(sources) == 0 {
		return 0, 0, fmt.Errorf("%w: none given, want one or more", ErrSource)
	}
	for i, s := range sources {
		if !isFiniteZ(s.E, s.Z) || s.Z == 0 {
			return 0, 0, fmt.Errorf("%w: source %d is %g V behind %g ohms, want finite phasors and an impedance other than zero", ErrSource, i+1, s.E, s.Z)
		}
		driven += s.E / s.Z
		admittance += 1 / s.Z
	}
	if !isFiniteZ(driven, admittance) || admittance == 0 {
		return 0, 0, fmt.Errorf("%w: admittances add up to %g siemens, want a finite sum other than zero", ErrSource, admittance)
	}
	return driven, admittance, nil
}
