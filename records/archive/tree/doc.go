// Package tree is the log of an archive as hashes and text: what was taken in, in the
// order it was taken, so that whoever kept an earlier head can tell that nothing was
// taken out, changed or put in between. It opens no file and no data base.
//
// Its words:
//
//	leaf      one line of the log: a bag that was taken, as canonical JSON (RFC 8785)
//	hashes    those of leaves and of what stands above them in the tree of RFC 6962; kept
//	          in the order of tlog.StoredHashIndex, they are only ever added to
//	root      the one hash over the first so many leaves
//	head      origin, size and root of a log, signed by the key of its archive
//	origin    the name of a log, told apart from every other by what is in it
//	proof     a file that shows, to whoever has the key of the archive and not the
//	          archive, that a leaf stands under a head, or that one head continues another
//
// A leaf is one line of JSON with these members and no others:
//
//	v        1
//	job      identifier of the job: the hash of its first entry
//	entries  how many entries the bag has
//	head     hash of the last of them
//	bag      SHA-256 of the bag as one zip file, as sha256sum prints it
//	list     SHA-256 of tagmanifest-sha512.txt of the bag as it came, which leads to every
//	         file of it: it goes on telling what was there when something was removed
//	taken    when it was taken, RFC 3339 in UTC, whole seconds
//	removed  SHA-256 of data/removed.json of the bag; only where something was removed
//
// No name of a person or a place is in it: a leaf stays for ever.
//
// Leaf and node hashes are those of RFC 6962, section 2.1: SHA-256 of a zero byte and the
// leaf, and of a byte of one and the two hashes below. A head is a signed note with a
// checkpoint, both open formats of C2SP: three lines origin, size and root in base64, an
// empty line, and a line of the signature: "— ", origin, and in base64 four bytes that
// name the key and the 64 of Ed25519 over the three lines. The key is one of OpenSSH.
// The same log gives the same head.
//
// A proof is indented JSON with the members v, leaf and number (1 is the first) or old (a
// head), path (hashes in base64, the lowest first, in the order of RFC 9162, sections 2.1.3 and
// 2.1.4) and head.
package tree
