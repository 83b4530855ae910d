package cmd

import (
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// valueNames are what help calls the value of an option, where that is not the name of the
// option in capitals.
var valueNames = map[string][]string{
	"DAY":    {"due", "from", "to", "until"},
	"FILE":   {"allowed-signers", "file", "labels", "logo", "output", "page", "policy", "readings", "reply", "set", "signature", "template", "tsa-ca"},
	"NUMBER": {"form-number", "lock", "telephone"},
	"PERSON": {"by", "caller", "confirmed", "in-control", "instructed", "listened"},
	"ROLE":   {"as"},
	"RULE":   {"override"},
	"TIME":   {"at"},
	"WHAT":   {"closed", "require"},
	"WHY":    {"keep", "past-hold", "repeat"},
}

// valueName is what help calls the value of an option, "" for one that takes none.
func valueName(f *pflag.Flag) string {
	switch first, _, _ := strings.Cut(f.Usage, " "); {
	case f.Value.Type() == "bool":
		return ""
	case f.Value.Type() == "int":
		return "N"
	case strings.HasPrefix(first, "folder"):
		return "FOLDER"
	case first == "file" || strings.HasPrefix(f.Usage, "text to write"):
		return "FILE"
	}
	for value, names := range valueNames {
		if slices.Contains(names, f.Name) {
			return value
		}
	}
	return strings.ToUpper(f.Name)
}

// called is the value of an option under the name that help calls it by.
type called struct {
	pflag.Value
	name string
}

func (c called) Type() string { return c.name }

// flagUsages tells the options of a command, a line each.
func flagUsages(flags *pflag.FlagSet) string {
	shown := pflag.NewFlagSet("", pflag.ContinueOnError)
	flags.VisitAll(func(f *pflag.Flag) {
		is := *f
		if name := valueName(f); name != "" {
			is.Value = called{f.Value, name}
		}
		if is.DefValue == "[]" {
			is.DefValue = ""
		}
		shown.AddFlag(&is)
	})
	return shown.FlagUsagesWrapped(80)
}

func init() { cobra.AddTemplateFunc("flagUsages", flagUsages) }
