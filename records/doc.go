// Package records keeps the record book: one SQLite file per device that holds
// jobs, each a chain of entries that can be added to and never changed.
//
// # Words
//
//   - book: the file. entry: one line of it. body: the exact bytes of an entry
//     that were hashed and stored. head: the newest entry of a job, and its hash.
//   - plan: the bytes a job was opened with, kept by their SHA-256.
//   - nonce: random text given by the caller when a job is opened. It enters the
//     first link, so equal job ids on two devices still have different chains.
//   - attachment: a file kept by its SHA-256, named by an entry of the kind "attach",
//     whose data is Attached.
//   - statement: what a person says of a job up to an entry, as canonical JSON.
//     signature: an SSHSIG over the bytes of a statement, in a namespace of its own.
//   - line: one continuation of a job, its entries from the first on. beside: the table
//     for the jobs whose id another job has here, and for a second continuation of a job,
//     from where the two part.
//   - identifier: hash of the first entry of a job; no two jobs share it.
//   - fault: one thing found wrong by Verify.
//   - log: the file of SQLite beside the book, its name and -wal; the newest entries
//     may be in it alone. backup: a verified copy of the book and its log, one file.
//
// # The entry
//
// A body is a JSON object in the canonical form of RFC 8785 (JCS), with
// exactly these members:
//
//	v     1, the version of this format
//	job   "<stem>-<n>"
//	seq   1, 2, 3, … without gaps in each job
//	prev  hash of the entry before; for seq 1 the genesis of the job
//	at    RFC 3339 time with the offset of the person's clock, as they gave it
//	by    who made it
//	kind  what sort of entry it is; the meaning is the caller's
//	check the check it belongs to; absent when it belongs to none
//	data  an object; the meaning is the caller's
//
// The data of seq 1 holds "nonce" and "plan_hash", put there by NewJob, and may
// hold "title". Numbers in data are IEEE 754 doubles, as RFC 8785 has them, and
// one that would change on the way is refused: readings whose last digit counts
// are given as text.
//
//	hash of an entry  hex(SHA-256("handback entry v1\n" + body))
//	genesis of a job  hex(SHA-256("handback job v1\n" + job + "\n" + nonce))
//	hash of a plan    hex(SHA-256(plan)), what sha256sum prints
//	hash of a file    hex(SHA-256(content)), the same
//
// # What this shows and what it does not
//
// Triggers refuse changes made by mistake. The chain shows a changed, swapped,
// inserted or removed entry, and so a changed plan or attachment. It cannot show that the newest entries of a job, or
// a whole job, were cut off, nor that somebody rebuilt all of it: compare the
// head hash and the number of entries with a signed or printed copy for that.
package records
