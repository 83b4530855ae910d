// Package recall judges again what an instrument gave that was later found out of
// tolerance: every verdict of a job that rests on its readings, with the error that was
// found taken out of them, and what hung on that verdict.
//
// Its words:
//
//	error      by how much the instrument was found to read wrong, over a span of
//	           readings: a correction, or a bound where only that is known
//	question   which instrument, between which times, with which errors
//	run        one judgement again, by one size the error may have had
//	touched    an attempt that read with the instrument, or rests on what such a one came to
//	then, now  the verdict as it was judged, and as it is judged again
//	follow-up  what was released, ready, signed or accepted by the verdict of then
//
// A recall takes passes away and gives none: when the error arose is not known, so a pass
// must stand with none of it, with all of it and with parts of it between. What no error is
// stated for is inconclusive.
package recall
