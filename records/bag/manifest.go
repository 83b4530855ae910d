package bag

import (
	"bytes"
	"crypto/sha512"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"handback/records/chain"
)

// manifest says of each file of a bag what its content hashes to, in hex.
type manifest map[string]string

// encode writes the manifest as RFC 8493 and sha512sum alike have it: a line
// "HASH  NAME" a file, here sorted by name.
func (m manifest) encode() []byte {
	var b bytes.Buffer
	for _, name := range slices.Sorted(maps.Keys(m)) {
		fmt.Fprintf(&b, "%s  %s\n", m[name], name)
	}
	return b.Bytes()
}

// Lists of a bag: of its payload, and of all else in it, by SHA-512.
const (
	FilesList = "manifest-sha512.txt"
	ListsList = "tagmanifest-sha512.txt"
)

// ParseList reads a list of one of these forms: SHA-512 in hex by name.
func ParseList(data []byte) (map[string]string, error) { return parseManifest(data, sha512.Size) }

// parseManifest reads a manifest of hashes of size bytes. It accepts only what
// encode writes, so that no two readers can take it to list different files.
//
// Errors name the line.
func parseManifest(data []byte, size int) (manifest, error) {
	m := manifest{}
	last := ""
	for n := 1; len(data) > 0; n++ {
		if n > MaxBagFiles {
			return nil, fmt.Errorf("it has more than %d lines, which is as many files as a bag holds", MaxBagFiles)
		}
		line, rest, ended := bytes.Cut(data, []byte("\n"))
		data = rest
		name, err := manifestLine(line, size, m)
		if err == nil && !ended {
			err = errors.New("it does not end with a line feed: the file was cut off")
		}
		if err == nil && name <= last {
			err = fmt.Errorf("%s is listed twice or out of order", name)
		}
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", n, err)
		}
		last = name
	}
	return m, nil
}

func manifestLine(line []byte, size int, into manifest) (string, error) {
	digits := hex.EncodedLen(size)
	if bytes.HasSuffix(line, []byte("\r")) {
		return "", errors.New("it ends with a carriage return; line feeds alone are accepted")
	}
	if len(line) < digits+3 || string(line[digits:digits+2]) != "  " {
		return "", fmt.Errorf("%d hex digits, two blanks and a name are wanted", digits)
	}
	for _, c := range line[:digits] {
		if !('0' <= c && c <= '9' || 'a' <= c && c <= 'f') {
			return "", fmt.Errorf("%d lower-case hex digits are wanted", digits)
		}
	}
	name := string(line[digits+2:])
	if err := validBagName(name); err != nil {
		return "", err
	}
	into[name] = string(line[:digits])
	return name, nil
}

// maxBagName is more than the longest name that a bag of ours holds.
const maxBagName = 200

// validBagName accepts a path inside a bag: parts of A-Z a-z 0-9 . _ - joined by
// slashes. Whatever else a name holds could mean another place on some system.
func validBagName(name string) error {
	refused := func(why string) error { return fmt.Errorf("name %.120q is refused: %s", name, why) }
	switch {
	case name == "":
		return errors.New("an empty name is refused")
	case len(name) > maxBagName:
		return refused(fmt.Sprintf("it has %d signs, at most %d are accepted", len(name), maxBagName))
	case strings.Contains(name, `\`):
		return refused("it holds a backslash")
	case name[0] == '/':
		return refused("it is an absolute path")
	case len(name) > 1 && name[1] == ':':
		return refused("it names a drive")
	case strings.Contains(name, "%"):
		return refused("it holds a percent sign; encoded names are not accepted")
	case strings.ContainsFunc(name, unicode.IsControl):
		return refused("it holds a control character")
	}
	for part := range strings.SplitSeq(name, "/") {
		switch {
		case part == "..":
			return refused("it leads out of the bag")
		case part == "" || part == ".":
			return refused("it has an empty part")
		case strings.HasSuffix(part, "."):
			return refused("a part of it ends with a dot, which some systems drop")
		case strings.ContainsFunc(part, func(r rune) bool { return !chain.SafeSign(r) }):
			return refused("A-Z a-z 0-9 . _ - are accepted")
		}
	}
	return nil
}
