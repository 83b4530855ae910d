// Package demo holds the invented job that handback demo plays: a plan and the
// lines typed on site, as ordinary files to copy and edit.
package demo

import _ "embed"

//go:embed plan.yaml
var Plan []byte

//go:embed readings.txt
var Readings []byte
