// Package page makes the forms of a handover that are read as they are: the page, one
// HTML file that needs nothing beside it, and the text, for a terminal or a mail.
//
// Make fills the templates of the page with words that are ready and pictures that are
// drawn; a template decides nothing. A table is a head of labels with rows of cells, laid
// out by one template. A point is a row of a check's table: a value or reading beside what
// it is held against. A figure is a picture with a table of the numbers it shows: the
// phasors of an attempt and its course over time. Pictures are SVG; what they show is told
// in words beside them or in their description, and nothing in them by colour alone.
//
// Text folds the summary to 80 columns. IsEarlierPage and IsEarlierText tell whether a
// file may be written over by a newer one of the same job.
package page
