// Package export gives the data of a job to other people's systems: as tables in CSV
// with metadata after the W3C's "Metadata Vocabulary for Tabular Data" (2015), and as
// one JSON document of the same rows. Rows are made one at a time.
//
//	table   a list of rows of one type; its columns are the members of that type
//	key     the columns that tell a row from every other of its table
package export
