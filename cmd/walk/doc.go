// Package walk leads one person through the checks of a job, from the next open one to
// the end of the plan.
//
// A walker asks the open rows of a check's form, one line each; several values may be
// typed on one. Every accepted line is stored before the next question, and the last one
// together with the judgement. Words such as back, skip, note and quit are good at any
// question. A reading that cannot be right is asked again or kept with a reason. At a
// hold point the walk stops until the step behind it was taken, a check is repeated or
// the person leaves.
package walk
