// Package starters fills starter plans in, for tests that work by them.
package starters

import (
	"fmt"
	"regexp"
	"strings"
)

// own is what a starter says of a value, and an invented one.
var own = strings.NewReplacer(
	"Name of the site, name of the board", "Tarnholt pumping station, main LV board",
	"Name of the technician", "Mira Sandrell", "Name of the second person", "Tove Lindqar",
	"Name of the engineer", "Jonas Averbek", "Name of the owner", "Ines Colvane", "firm: Firm", "firm: Fenmark Services",
	"permit: Number of the permit", "permit: Permit 26-577",
	`client: {name: "", address: "", contact: ""}`, `client: {name: Tarnholt Water, address: "40 Weir Lane, Tarnholt", contact: Ines Colvane}`,
	`tested_by: {name: "", address: "", contact: ""}`, `tested_by: {name: Fenmark Services, address: "Unit 41, Kiln Yard, Fenmark", contact: Jonas Averbek}`,
	`site_address: ""`, "site_address: Pump Road 68, Tarnholt", `document: {number: ""`, "document: {number: TH-LV-7923",
	"certificate: number", "certificate: CAL-26-2472", "source: name of the document", "source: owner's standard LV-47")

var (
	mark   = regexp.MustCompile(`(?m)[ \t]*# REPLACE.*$`)
	serial = regexp.MustCompile(`serial: "(\d+)"`)
	asset  = regexp.MustCompile(`asset: ""`)
)

// FilledIn is a starter plan as somebody has filled it in: names, numbers and
// documents of an invented place, and no line marked any more.
func FilledIn(plan []byte) []byte {
	text := own.Replace(mark.ReplaceAllString(string(plan), ""))
	count := 268
	text = asset.ReplaceAllStringFunc(text, func(string) string {
		count++
		return fmt.Sprintf("asset: TH-%d", count)
	})
	return []byte(serial.ReplaceAllStringFunc(text, func(s string) string {
		return fmt.Sprintf("serial: TW-%s", serial.FindStringSubmatch(s)[1])
	}))
}
