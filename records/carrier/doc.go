// Package carrier writes and reads carriers: the few entries of a job that somebody else
// lacks, small enough for a poor link.
//
// Its words:
//
//	carrier  entries of one job in one file, with the attachments they name, and the plan
//	         where the first entry is among them
//	armour   the same as lines of text that survive mail
//
// A carrier is lines. The first is an object that tells what follows; then comes every
// entry as it was hashed, one a line; then the plan and the attachments in base64, one a
// line; the last line is the SHA-256 of all before it. Only what Encode writes is read.
package carrier
