// Package archive keeps an owner's archive: bags of many jobs, and an index of rows to
// find things in them.
//
// # Words
//
//   - archive: a folder with a data base, archive.sqlite, and the bags beside it.
//   - bag: the bytes of one state of one job, kept for ever in a file named by their own
//     SHA-256. The bags are the evidence.
//   - job: told from every other by its identifier, the hash of its first entry.
//   - state: a job up to an entry, told by the hash of that entry, its head.
//   - newest: a state that no other state of its job here goes on from. A job with two of
//     them is forked: both are kept, and neither counts for more.
//   - row: what was found in a newest state, in tables that plain SQL reads. Rows are an
//     index: they can be thrown away and made again from the bags.
//   - quarantine: bags that were refused, kept with the reasons. No row tells of them.
//   - log: what was taken, in its order, so that it can be proved; see package tree.
//   - reduced: a bag from which something was removed because it had to go. It takes the
//     place of the whole one, which is deleted; its hashes and the log go on telling what
//     was there. Nothing else is ever deleted.
//   - policy: what is asked of a bag before it is taken, as files; the newest holds.
//
// # Conventions of the tables
//
// Every table of rows begins with the columns job and head, and job leads every key, so
// that rows may be distributed by it. A time is text in UTC with milliseconds,
// 2006-01-02T15:04:05.000Z, so that texts sort as times do; a day is 2006-01-02. Yes and no
// are 1 and 0. A text that is not there is empty, a number that is not there is NULL.
//
// # What holds when a program is killed
//
// A bag is written and brought to the disk before the transaction that tells of it ends.
// What was begun and not ended leaves a file that nothing tells of; the same bag, added
// again, takes its place.
package archive
