// Package files writes what a command makes, whole or not at all. What is there already
// is written over only where Over allows it: never a record book or a private key, and
// an earlier output only when nothing is lost with it.
//
// Write fills a temporary file beside the target, brings it to the disk and gives it its
// name; WriteBag does the same with a folder or an archive. What a killed program left
// behind is swept away by the next one that writes there. Errors say in plain words what
// stopped it and what to do.
package files
