// Command handback walks a person through the checks that return electrical
// plant to service, and hands over the evidence.
package main

func main() {}
