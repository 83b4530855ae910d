// Package page makes the forms of a handover that are read as they are: the page, one
// HTML file that needs nothing beside it, and the text, for a terminal or a mail.
//
// Make fills the templates of the page with words that are ready and pictures that are
// drawn; a template decides nothing. A figure is a picture with the numbers it shows:
// the phasors of an attempt, its course over time, the share of its tolerance that each
// judged value uses, and the trend over earlier jobs. Pictures are SVG; what they show is
// told in their description too, and nothing in them is told by colour alone.
//
// Text folds the summary to 80 columns. IsEarlierPage and IsEarlierText tell whether a
// file may be written over by a newer one of the same job.
package page
