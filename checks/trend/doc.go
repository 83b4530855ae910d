// Package trend tells how one value of a plant went over the years: how fast it drifts,
// how far it is from what it was first and from its baseline, and when it comes to its
// limit, as far as the values carry that.
//
// Its words:
//
//	value     what one job found at a time, with its standard uncertainty and limits
//	series    the values of one check and key of one plant, oldest first
//	line      the straight line through them by least squares
//	error     what is taken for the errors of the values, and what the line errs by then
//	drift     the slope of the line, a year, with its expanded uncertainty
//	reach     when the line comes to the limit, with the interval it may be
//
// Dates go in as times; a year is 365.25 days. All expanded uncertainties are of a
// level of confidence of 95.45 %, that of U = 2u (JCGM 100:2008, 6.2.2 and table G.2).
package trend
