// Package fieldsheet makes the field sheet, a workbook with one form for every open
// check, to fill in on a tablet or on paper, and takes readings back: from such a sheet
// or from a file of comma-separated values.
//
// Make lays the forms out and hides a marker in the workbook, which says from what job,
// plan and entry it was made, which cells are inputs and what every other cell says.
// Read holds a sheet that comes back against its marker: a printed cell that changed
// shows that rows were moved. ReadCSV reads a file as an import of the plan declares it.
//
// Both give a list of Filled, one value each with the place it stands at. Propose alone
// decides what of them is new, what the record holds already and what contradicts it.
// Nothing is guessed: what is not clear is a CellError, and then nothing is taken. A
// Proposal stores nothing; that is for who asked for it.
package fieldsheet
