package files

import (
	"errors"
	"fmt"
	"strings"
)

// nameFor refuses a path that means something else than a file on a system. On
// Windows what follows a colon is a hidden stream of another file, some names are
// devices in every folder, and a dot or blank at the end is dropped.
func nameFor(system, path string) error {
	if system != "windows" {
		return nil
	}
	if verbatim := `\\?\`; strings.HasPrefix(strings.ReplaceAll(path, "/", `\`), verbatim) {
		path = path[len(verbatim):]
	}
	if len(path) > 1 && path[1] == ':' { // a drive
		path = path[2:]
	}
	for part := range strings.FieldsFuncSeq(path, func(r rune) bool { return r == '/' || r == '\\' }) {
		stem, _, _ := strings.Cut(part, ".")
		switch {
		case strings.ContainsAny(part, `:*?"<>|`):
			return errors.New(`a name on Windows holds none of : * ? " < > |; name another`)
		case isDevice(strings.ToUpper(strings.TrimRight(stem, " "))):
			return fmt.Errorf("%s is a device on Windows; name another", stem)
		case part != "." && part != ".." && strings.TrimRight(part, ". ") != part:
			return errors.New("a dot or blank at the end of a name is dropped on Windows; name another")
		}
	}
	return nil
}

func isDevice(name string) bool {
	switch name {
	case "CON", "PRN", "AUX", "NUL":
		return true
	}
	digit, ok := strings.CutPrefix(name, "COM")
	if !ok {
		digit, ok = strings.CutPrefix(name, "LPT")
	}
	return ok && len(digit) == 1 && digit >= "0" && digit <= "9"
}
