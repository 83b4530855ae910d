// Command handback walks a person through the checks that return electrical
// plant to service, and hands over the evidence.
package main

import (
	"os"
	_ "time/tzdata" // Windows has no zone files

	"handback/cmd"
	"handback/cmd/session"
)

func main() {
	os.Exit(cmd.Main(os.Args[1:], session.System()))
}
