// Package session is one person at one record book: what every command that reads or
// adds to a job has in common.
//
// Env is everything outside that a command may touch: streams, clock, chance and the
// place of the book. A Session is the open book with one job of it, folded. Drafts are
// staged first: the job takes them up as they will stand in the book, and judges again
// what rests on them; Commit then stores all of them or none, and Add does both. What the
// record itself would say does not count is refused before it is stored.
//
// Lines asks for one line at a time, the same on a terminal, over a pipe and to a screen
// reader. A PlainWriter writes out signs that do not show. What is said about findings,
// answers and hold points in the same words by several commands stands here too.
//
// UsageError is a mistake in the arguments; ErrIntegrity and ErrInterrupted are told by
// their exit status.
package session
