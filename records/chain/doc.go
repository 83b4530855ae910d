// Package chain is the record as bytes: entries, the hashes that chain them, and what is
// signed of them. It opens no file and no data base.
//
// Its words:
//
//	entry       one line of a record; body: the exact bytes of it that were hashed and
//	            stored; draft: an entry that has no place in a chain yet
//	canonical   the one way to write a body (RFC 8785)
//	head        the newest entry of a job, and its hash
//	genesis     what the first entry of a job links to, made of job and nonce
//	nonce       random text given when a job is opened, so that equal job ids on two
//	            devices still have different chains
//	seal        to make an entry of a draft, behind the entry before it
//	attachment  a file kept by its SHA-256, named by an entry of the kind "attach"
//	statement   what a person says of a job up to an entry, as canonical JSON
//	acceptance  what a person says who accepts something of a job, as canonical JSON
//	signature   an SSHSIG over the bytes of a statement or an acceptance, each in a
//	            namespace of its own
//	signer      who may sign, by the public keys a verifier trusts
//	fault       one thing found wrong
//
// The format of an entry stands in package records, which keeps them.
package chain
