// Package plan reads what was written before the work: one YAML file, or a trial of one
// check.
//
// Its words:
//
//	plan        plant, instruments, people, and the steps in their order
//	step        one act of a plan, on a device or in words; steps also names the whole list
//	            of checks, hold points and plain steps
//	item        one of that list
//	check       one item to be judged, of one kind; given: what its kind needs to know
//	hold        a hold point: a step that must not be taken until named checks pass
//	procedure   a document that says how something is done; what it parts into are the
//	            sections that a plan writes, of which the code says Follows
//	network     the drawing of the plant: nodes, sources, devices, interlocks, keys; laid out
//	            by package network, which knows the state of the plant and the rules
//	traits      what a plan knows of a kind: its name, whether it is taken live, dead or
//	            proves dead, what it is given. How it asks and judges is not known here:
//	            kinds register themselves from above, and so do rules
//	stage       what the step behind a hold point does: begin work, energise, or neither
//	section     a stretch of a plan on dead plant, from its first proof to the first live
//	            check
//	floor       what any plan may give for a value, and how far a named reason goes
//	rule        what is held against a whole plan by the package that added it
//	problem     one thing wrong, with its line; an objection lets a plan be read and not
//	            be worked by, a warning refuses nothing
//	notes       gathers problems, by the path a value stands under
//	range       one measuring range of an instrument, with its accuracy
//	prediction  a value to expect, said before anything is read
//	trial       a check with its answers in one file, judged outside a job
//
// Load gives either a plan or every problem at once. The schema for editors is made from
// the tags the loader decodes by.
package plan
