// Package checks judges whether plant is fit to return to service.
//
// It is pure, with all below it: bytes and numbers in, findings out. It reads no clock,
// file, network or random source; a test keeps it so. Numbers are those of package
// quantity, computations those of calc, plans those of plan; each kind of check stands in
// package kinds and reaches a judgement through what is exported here.
//
// Its words, used the same in code, files and help:
//
//	kind       a form (what is asked) and a judgement (what it shows)
//	form       the ordered fields of a check; row: fields typed on one line
//	answer     what was read or observed for one field, as typed and in base units
//	input      what a form or a judgement may look at: plan, check, answers, the checks
//	           before it
//	past       what an earlier check came to
//	doubt      a reading that cannot be right as it stands
//	work       a judgement in the making: it reads answers, shows values, holds them
//	           against limits and says what it saw
//	limit      what a value is held against, a bound on one side or on both, with its source
//	derived    a value worked out from answers, with its uncertainty, limit and verdict
//	reason     one statement of why
//	basis      what the verdict of a reason hangs on, so that a sheet can judge it again;
//	           condition: a basis on answers as they stand, without arithmetic
//	ledger     what the values of a finding rest on, laid out row by row
//	finding    verdict, reasons and derived values of one set of answers
//	verdict    pass, fail, inconclusive, void or missing; the zero value never passes
//	stop       a finding nobody may pass over: it stays on the first page
//	rule       how a value is judged: simple, or guarded by its uncertainty
package checks
