// Package report tells what became of a job: it folds the entries of a record
// book into the state of every check and hold point, and renders that state once
// as a Document for the workbook and the text that are handed over.
package report
