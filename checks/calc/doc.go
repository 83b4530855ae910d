// Package calc keeps computations as trees, so that one source gives the value, how far
// it may be off, its working in words and its formula for a spreadsheet.
//
// Its words:
//
//	expression   a computation as a tree (Expr)
//	node         what an expression is: constant, reading, step, operation, call, solved
//	reading      a leaf that takes what was read for a field, or check/field of an
//	             earlier check
//	datum        a leaf that the plan or an earlier check gives; uncertain where it may
//	             lie between two values
//	step         a named part of a computation, with a line of its own in the working
//	solved       a part that no single line holds; in words it says what it does
//	operation    an operator between two expressions
//	call         a function of expressions; functions have one table
//	choice       a decision as a tree: tests choose between words
//	cell         what a test looks at, by a name
//	working      the computation line by line, with the numbers put in
//	worked       a computation with the value of each of its parts
//	shift        how far a reading is moved, to see how far the value goes
//	source       a reading with where its error comes from: instrument, range, accuracy
//	half-width   how far a reading may be off, by its maker's accuracy
//	spread       how far a value may be off: standard uncertainty u, expanded
//	             uncertainty U, and the most that is possible
//	known        how much of that rests on stated accuracies: all, a part, nothing
//
// A value that cannot be worked out is NaN, and NaN never passes. Uncertainty follows
// JCGM 100; the chance to be beyond a limit JCGM 106.
package calc
