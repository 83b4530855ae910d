// Package kinds holds every kind of check, one file a kind, or a few where one is long.
//
// A kind registers itself by a package variable: a program knows the kinds of this
// package when it imports it. Nothing else names a kind.
//
// Its words, beside those of package checks:
//
//	given       the parameters of a kind, a struct whose tags the plan is decoded by
//	validate    what a check misses in its plan, told when the plan is read
//	predict     what to expect, told before anything is read
//	refer       to take an earlier check's reading, tap or turn by the id the plan gives;
//	            a ref tag says what a key names
//	side        one of two live systems that are to be joined: its fields share a prefix
//	tap choice  on which tap positions a check is taken
//	feed        a transformer as a source: its volts and impedance seen from the LV side
//
// A kind judges with the methods of checks.Work and looks at nothing else; what several
// kinds share is a function here. To add one see DEVELOPERS.md.
package kinds
