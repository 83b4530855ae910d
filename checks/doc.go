// Package checks judges whether plant is fit to return to service.
//
// It is pure: bytes and numbers in, findings out. It reads no clock, file,
// network or random source; a test keeps it so.
//
// Its words, used the same in code, files and help:
//
//	plan      what is to be checked, with which limits, in which order
//	check     one item of the plan, of one kind
//	kind      a form (what is asked) and a judgement (what it shows)
//	form      the ordered fields of a check
//	answer    what was read or observed for one field, as typed and in base units
//	finding   verdict, reasons and derived values of one set of answers
//	verdict   pass, fail, inconclusive, void or missing; the zero value never passes
//	hold      a step that must not be taken until named checks pass
//	stop      a finding nobody may pass over: it stays on the first page
//	doubt     a reading that cannot be right as it stands
//
// Numbers are float64 in base units (V, A, Hz, VA, W, Ω, N·m, °C, s, m), angles
// in degrees and shares in per cent. They are rounded once, when printed.
package checks
