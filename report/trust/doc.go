// Package trust holds a record against what whoever receives it asks of it. What the
// record says of itself, its plan with it, asks nothing.
//
// Its words:
//
//	policy   what is asked: who must have signed, by which keys, how much of the record
//	         must be there, how far its clock may be ahead
//	known    head and number of entries of a record, as a copy from elsewhere tells them
//	vouched  a time that somebody else gives for the record up to an entry
//	refused  what was asked and is not so, whether or not the record is intact
package trust
