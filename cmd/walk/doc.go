// Package walk leads one person through the checks of a job, from the next open one to
// the end of the plan.
//
// A walker asks the open rows of a check's form, one line each; several values may be
// typed on one, and rows alike on the same line. What should be read stands beside what is
// asked, as far as it passes with the instrument in hand. Every accepted line is stored
// before the next question, and the last one together with the judgement. Instruments of
// the plan that are in date, who walks, and what was read a short time before at the same
// point are not asked: they go into the record with the first line that is typed, and a
// word names others. Words such as back, skip, use, list, go, note and quit are good at
// any question. A reading that cannot be right is asked again or kept with a reason. At a
// hold point the walk stops until the step behind it was done, a check is repeated or
// the person leaves. When only readings to come are open, it waits for them.
//
// A taking is one attempt of a check under way: what is stored of it, what goes along with
// the next line, and the row that is asked.
package walk
