package session

import (
	"runtime"
	"strings"
)

// ShellWord quotes a word for the shells of this system where it has to be.
func ShellWord(s string) string {
	if runtime.GOOS == "windows" {
		return windowsWord(s)
	}
	return PosixWord(s)
}

// windowsWord quotes as both shells of Windows understand it. A name there holds no
// quotation mark.
func windowsWord(s string) string {
	if s != "" && !strings.ContainsAny(s, " \t&()[]{}^=;!'+,`~%$@#<>|") {
		return s
	}
	return `"` + s + `"`
}

// PosixWord quotes a word for a POSIX shell.
func PosixWord(s string) string {
	safe := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("._/-=", r)
	}
	if s != "" && s[0] != '-' && s[0] != '=' && strings.IndexFunc(s, func(r rune) bool { return !safe(r) }) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}
