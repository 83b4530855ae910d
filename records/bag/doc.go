// Package bag writes and reads the files of a bag: one job as a folder or a zip archive
// (BagIt, RFC 8493).
//
// Its words:
//
//	payload    the files below data; tag files: those beside it, which tell of the bag
//	manifest   a list of files with their hashes, one list a hash function
//	source     where a bag is read from: a folder or an archive, name by name
//	container  the bytes of an archive around its files
//
// A bag that comes back is taken for hostile: names, links and sizes are refused before
// any content is read, and an archive is held byte for byte against its own list.
package bag
