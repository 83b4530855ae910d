// Package quantity reads and prints numbers with units.
//
// Its words:
//
//	quantity   what is measured: voltage, resistance, torque …
//	unit       one way to write a quantity; base unit: the one it is kept in (V, A, Hz,
//	           VA, W, var, Ω, N·m, N, °C, s, m, m/s, lx; where the SI's own is never read on
//	           site, what is: µF, kPa, 1/min, l/min; angles in degrees, shares in per cent)
//	spelling   another way in which people type a unit
//	bound      ">" or "<" before a number: no more was read
//	amount     a number of any quantity, as a plan gives it
//	slack      the share by which a number may stand beyond another that it equals in
//	           decimals: 44.0 is no binary number
//	decimals   how many a value is shown with, so that it differs from its limit in print
//	           when it differs at all
//
// Numbers are float64 in base units and are rounded once, when printed. What two
// readers would read as two numbers is refused; nothing is guessed.
package quantity
