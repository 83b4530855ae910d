package chain

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"golang.org/x/crypto/ssh"
)

// maxSigners bounds a file of allowed signers.
const maxSigners = 1 << 20

// Signers says whose keys are trusted for what, as an allowed signers file of
// OpenSSH does (ssh-keygen(1), ALLOWED SIGNERS).
type Signers []Signer

// Signer is one line of such a file.
type Signer struct {
	People     string // patterns with * and ?, parted by commas, ! before one that is excluded
	Namespaces string // likewise; "" is any
	After      time.Time
	Before     time.Time // both inclusive; zero is no bound
	Key        ssh.PublicKey
}

// ParseSigners reads an allowed signers file. zone is where its times without a Z
// are read, the local one for ssh-keygen.
//
// Errors name the line. Certificates (cert-authority) are refused, for what a
// certificate says is not looked at here; so is an option that is not known.
func ParseSigners(data []byte, zone *time.Location) (Signers, error) {
	if len(data) > maxSigners {
		return nil, fmt.Errorf("allowed signers of %d bytes: at most %d are read", len(data), maxSigners)
	}
	var out Signers
	for i, line := range bytes.Split(data, []byte("\n")) {
		text := strings.Trim(string(line), " \t\r")
		if text == "" || text[0] == '#' {
			continue
		}
		s, err := parseSigner(text, zone)
		if err != nil {
			return nil, fmt.Errorf("allowed signers, line %d: %w", i+1, err)
		}
		out = append(out, s)
	}
	return out, nil
}

func parseSigner(line string, zone *time.Location) (Signer, error) {
	var s Signer
	var rest string
	if quoted, ok := strings.CutPrefix(line, `"`); ok {
		if s.People, rest, ok = strings.Cut(quoted, `"`); !ok {
			return Signer{}, errors.New("a quotation mark is not closed")
		}
		if rest != "" && rest[0] != ' ' && rest[0] != '\t' {
			return Signer{}, errors.New("a blank is wanted after the people")
		}
	} else {
		s.People, rest = cutBlank(line)
	}
	if err := CheckOneLine("the people", s.People, true); err != nil {
		return Signer{}, err
	}
	rest = strings.TrimLeft(rest, " \t")
	if key, err := plainKey(rest); err == nil {
		s.Key = key
		return s, nil
	}
	options, rest, err := cutOptions(rest)
	if err != nil {
		return Signer{}, err
	}
	if s.Key, err = plainKey(rest); err != nil {
		// A line without options fails here too, with its key taken for one.
		if _, _, isKey := ParseKey(options + " " + rest); isKey == nil || strings.HasPrefix(options, "ssh-") || strings.HasPrefix(options, "ecdsa-") {
			return Signer{}, fmt.Errorf("the %.40s key cannot be read: copy its line again, in one piece", options)
		}
		return Signer{}, err
	}
	return s, s.options(options, zone)
}

func plainKey(text string) (ssh.PublicKey, error) {
	key, _, err := ParseKey(text)
	return key, err
}

func cutBlank(s string) (word, rest string) {
	if i := strings.IndexAny(s, " \t"); i >= 0 {
		return s[:i], s[i:]
	}
	return s, ""
}

// cutOptions cuts the options off, whose quoted values may hold blanks.
func cutOptions(s string) (options, rest string, err error) {
	quoted := false
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '\\' && i+1 < len(s) && s[i+1] == '"':
			i++
		case c == '"':
			quoted = !quoted
		case !quoted && (c == ' ' || c == '\t'):
			return s[:i], strings.TrimLeft(s[i:], " \t"), nil
		}
	}
	if quoted {
		return "", "", errors.New("a quotation mark is not closed")
	}
	return "", "", errors.New("a public key is missing: people, options and a key such as ssh-ed25519 AAAA… are wanted")
}

// options reads name="value" parted by commas.
func (s *Signer) options(text string, zone *time.Location) error {
	seen := map[string]bool{}
	for text != "" {
		name, _, _ := strings.Cut(text, ",")
		name, _, hasValue := strings.Cut(name, "=")
		name = strings.ToLower(name)
		if name == "cert-authority" {
			return errors.New("cert-authority is not read: certificates are not followed here; list the keys themselves")
		}
		if name != "namespaces" && name != "valid-after" && name != "valid-before" {
			return fmt.Errorf("option %.40q is not known; accepted are namespaces, valid-after, valid-before", name)
		}
		if seen[name] {
			return fmt.Errorf("option %s stands twice", name)
		}
		seen[name] = true
		value, rest, ok := unquoteOption(text[min(len(name)+1, len(text)):])
		if !hasValue || !ok {
			return fmt.Errorf(`option %s: a value in quotation marks is wanted, such as %s="…"`, name, name)
		}
		if err := s.set(name, value, zone); err != nil {
			return err
		}
		if rest != "" && (rest[0] != ',' || rest == ",") {
			return fmt.Errorf("option %s: a comma and another option, or a blank and the key, are wanted after it", name)
		}
		text = strings.TrimPrefix(rest, ",")
	}
	return nil
}

func (s *Signer) set(name, value string, zone *time.Location) error {
	if name == "namespaces" {
		s.Namespaces = value
		return CheckOneLine("option namespaces:", value, true)
	}
	at, err := parseSignerTime(value, zone)
	if err != nil {
		return fmt.Errorf("option %s: %w", name, err)
	}
	if name == "valid-after" {
		s.After = at
	} else {
		s.Before = at
	}
	if !s.After.IsZero() && !s.Before.IsZero() && !s.After.Before(s.Before) {
		return errors.New("valid-before is not later than valid-after")
	}
	return nil
}

// unquoteOption reads a value in quotation marks, in which \" stands for one.
func unquoteOption(s string) (value, rest string, ok bool) {
	if s == "" || s[0] != '"' {
		return "", "", false
	}
	var b strings.Builder
	for i := 1; i < len(s); i++ {
		switch {
		case s[i] == '\\' && i+1 < len(s) && s[i+1] == '"':
			b.WriteByte('"')
			i++
		case s[i] == '"':
			return b.String(), s[i+1:], true
		default:
			b.WriteByte(s[i])
		}
	}
	return "", "", false
}

// signerTimes are the forms of a time, by their length.
var signerTimes = map[int]string{8: "20060102", 12: "200601021504", 14: "20060102150405"}

func parseSignerTime(text string, zone *time.Location) (time.Time, error) {
	digits, utc := strings.CutSuffix(text, "Z")
	if utc {
		zone = time.UTC
	}
	layout, ok := signerTimes[len(digits)]
	at, err := time.ParseInLocation(layout, digits, zone)
	if !ok || err != nil || !(at.Year() > 1970) {
		return time.Time{}, fmt.Errorf("%.40q is no time; YYYYMMDD, YYYYMMDDHHMM or YYYYMMDDHHMMSS is wanted, with Z for UTC", text)
	}
	return at, nil
}

// String is the line as it stands in an allowed signers file; times are in UTC.
func (s Signer) String() string {
	people := s.People
	if strings.ContainsAny(people, " \t") || people[0] == '#' {
		people = `"` + people + `"`
	}
	var options []string
	if s.Namespaces != "" {
		options = append(options, `namespaces="`+strings.ReplaceAll(s.Namespaces, `"`, `\"`)+`"`)
	}
	for _, bound := range []struct {
		name string
		at   time.Time
	}{{"valid-after", s.After}, {"valid-before", s.Before}} {
		if !bound.at.IsZero() {
			options = append(options, bound.name+`="`+bound.at.UTC().Format("20060102150405")+`Z"`)
		}
	}
	if len(options) > 0 {
		people += " " + strings.Join(options, ",")
	}
	return people + " " + KeyLine(s.Key)
}

// Allow says why a key is not trusted for a person's statement of a time, nil when a
// line allows it. The time is the signer's own claim.
func (s Signers) Allow(person string, key ssh.PublicKey, at time.Time) error {
	return s.AllowIn(StatementNamespace, person, key, at)
}

// AllowIn is Allow for what is signed in another namespace.
func (s Signers) AllowIn(namespace, person string, key ssh.PublicKey, at time.Time) error {
	print := ssh.FingerprintSHA256(key)
	why := fmt.Errorf("key %s is not listed for %s", print, person)
	for _, l := range s {
		if !bytes.Equal(l.Key.Marshal(), key.Marshal()) || !matchList(person, l.People) {
			continue
		}
		switch {
		case l.Namespaces != "" && !matchList(namespace, l.Namespaces):
			why = fmt.Errorf("key %s is listed for %s, but not for namespace %s", print, person, namespace)
		case !l.After.IsZero() && at.Before(l.After):
			why = fmt.Errorf("key %s is listed for %s only from %s on", print, person, l.After.Format(time.RFC3339))
		case !l.Before.IsZero() && at.After(l.Before):
			why = fmt.Errorf("key %s is listed for %s only until %s", print, person, l.Before.Format(time.RFC3339))
		default:
			return nil
		}
	}
	return why
}

// Knows tells whether a line has the key, for whomever.
func (s Signers) Knows(key ssh.PublicKey) bool {
	return slices.ContainsFunc(s, func(l Signer) bool { return bytes.Equal(l.Key.Marshal(), key.Marshal()) })
}

// Lists tells whether a line is a person's, with whatever key.
func (s Signers) Lists(person string) bool {
	return slices.ContainsFunc(s, func(l Signer) bool { return matchList(person, l.People) })
}

// Timed tells whether a line bounds the time of a key for a person.
func (s Signers) Timed(person string, key ssh.PublicKey) bool {
	return slices.ContainsFunc(s, func(l Signer) bool {
		return bytes.Equal(l.Key.Marshal(), key.Marshal()) && matchList(person, l.People) && !(l.After.IsZero() && l.Before.IsZero())
	})
}

// matchList holds a text against patterns parted by commas: one must match, and none
// that begins with ! may.
func matchList(text, patterns string) bool {
	found := false
	for _, p := range strings.Split(patterns, ",") {
		p, negated := strings.CutPrefix(p, "!")
		if matchPattern(text, p) {
			if negated {
				return false
			}
			found = true
		}
	}
	return found
}

// matchPattern matches * with any run of bytes and ? with any one.
func matchPattern(text, pattern string) bool {
	star, again := -1, 0
	i, p := 0, 0
	for i < len(text) {
		switch {
		case p < len(pattern) && pattern[p] == '*':
			star, again = p, i
			p++
		case p < len(pattern) && (pattern[p] == '?' || pattern[p] == text[i]):
			i, p = i+1, p+1
		case star >= 0:
			again++
			i, p = again, star+1
		default:
			return false
		}
	}
	return strings.Trim(pattern[p:], "*") == ""
}
