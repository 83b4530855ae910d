// Package seal is about evidence that leaves the record book and comes back: bags of
// whole jobs, statements, and workbooks that say what a record shows.
//
// Pack gives the files of a bag: plan, entries with their hashes, the handover in its
// three forms, attachments, and what was signed with the keys it was signed with, beside
// a note that tells how to check all of it without this program. Equal jobs give equal
// bytes.
//
// ExamineBag and ExamineWorkbook look at what came back and tell faults and notes: a
// fault is something that is not as the record gives it; a note is something that was
// not compared, and why. A claim is what the certificate of a workbook says about the record
// it shows. Nothing is repaired, and nothing that is examined is trusted.
//
// IsEarlierWorkbook tells whether a workbook may be written over by a newer one of the
// same job.
package seal
