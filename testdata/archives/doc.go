// Package archives has what every way to keep an archive is held to, for tests: Conform
// asks one engine after another the same.
package archives
