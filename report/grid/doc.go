// Package grid lays sheets of a workbook (ECMA-376, .xlsx) out cell by cell, and reads
// the cells of one that comes from outside. It knows no job and no check but their
// verdicts: what stands where is the business of workbook and fieldsheet.
//
// # Out
//
// A Book holds sheets in the order they are written. A Sheet is laid out in full before
// its first row goes out, since heights, the printed area and the breaks of pages must
// be known by then. Add puts boxes in the next row: a Box is what stands in one cell
// (At) or in several merged along a row (Across), with its Look. Text too high for a row
// goes on in rows below; a block is best not torn by the end of a page. Write packs the
// book so that equal books have equal bytes.
//
// No box is held. A row is its height and the place of a record, with what stands in it
// as bytes (record.go), in a pile that goes to a file where it grows large (store.go);
// what comes later, such as a formula over cells laid out after it (Later), is one more
// record. Rows become XML when their sheet is packed, one after another (rows.go); the
// library gives all that stands around them.
//
// Every sheet is protected, without a password: against slips, not against anybody.
// Input makes a box one to fill in and says what it accepts; Link leads from a cell to
// another. Some columns of a sheet may stay out of the print, or all of it.
//
// Looks are greys, borders and weight, never colour: every verdict has a box of its own,
// so that a grey copy tells them apart. A Cell is a place; Name is its address on its
// sheet, Ref its address in a formula.
//
// # In
//
// A workbook from outside is taken for hostile. OpenParts unpacks it within bounds and
// refuses what no plain workbook holds; ReadBook reads every cell with content from the
// parts. A Foreign is why a file is not read at all.
package grid
