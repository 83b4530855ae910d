// Package written is a plan as it is written, before anybody asks what it means: the
// files it is made of, the members of its mappings and lists by key and id, where two
// texts differ, and edits of a text.
//
// Its words:
//
//	part        one file of a plan's text: the plan's own, then each that it includes
//	whole       a plan's text with the files it includes behind it, as a job holds it
//	member      a value under a key, or an item of a list under its id
//	difference  one place in which two texts differ
package written
