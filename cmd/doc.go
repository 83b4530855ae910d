// Package cmd is the command line: one file a command, its noun first in the name, each
// an options struct, a newX that reads the arguments and a runX that does the work.
// What commands have in common stands in cmd/session, the walk in cmd/walk. These three
// are the only place for terminals, prompts, tables and exit statuses.
//
// Rules of the interface: stdout is the answer, stderr is talk; the text is the
// same on a terminal and in a pipe; --json prints one document; messages are
// lower case without a full stop and end with what to type next.
package cmd
