// Package stamp reads and checks the time stamps of an authority (RFC 3161): bytes alone,
// with no connection to anybody.
//
// Its words:
//
//	query      what an authority is asked: a hash
//	reply      what it answers: a token, or why not
//	token      the hash, a time, and the authority's signature over both
//	authority  who gives tokens; it is believed when its certificate leads to one that
//	           the verifier trusts
package stamp
