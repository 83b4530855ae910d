// Package workbook makes the handover workbook of a document. Printed are a certificate to
// sign, a test sheet for every group of checks, and the log with the registers and the
// diagram of the plant. Annexes are in sight and not printed: method, where values stand
// between their limits, flags, instruments, entries, the plan, workings, courses, pictures.
//
// A test sheet prints what a reader needs of each reading and value, once, in one line;
// what an assessor needs beside it stands in columns right of the printed ones, see
// layout.go.
//
// Make lays out first and writes then. While sheets are laid out the Layout keeps the
// place of every reading, word, derived value and verdict: a Spot names what a cell
// shows, and formulas are written once every spot has its Cell. Values, uncertainties
// and verdicts are formulas over the cells of readings, limits and errors, with what was
// recorded beside them; what no formula works out is marked as computed by handback.
//
// A formula says what checks says in Go: verdicts.go what decides an attempt, a check
// and the job, formula.go a value against its limits, working.go how a value and its
// uncertainty come about, links.go from which cell an answer is taken. recorded.go holds
// every cell that may be changed against its record, and finds it by what formulas read
// (reads.go); whatif.go lets verdicts, their words and the certificate hang on what differs.
package workbook
