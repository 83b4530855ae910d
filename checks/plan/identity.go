package plan

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// folded is a text as identities are compared: capitals folded, spaces collapsed.
func folded(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// identity notes one thing or person under two names: an instrument is its serial, a
// calibration its certificate, a person a name.
func (n *Notes) identity(p *Plan) {
	serials, papers, people := map[string]int{}, map[string]int{}, map[string]int{}
	for i, m := range p.Meters {
		at := func(k int, key string) string { return fmt.Sprintf("instruments[%d].%s", k+1, key) }
		if first, ok := serials[folded(m.Serial)]; ok && m.Serial != "" {
			n.Object(at(i, "serial"), "serial %s stands already at %s, for %s: one instrument stands once, under one id", strings.TrimSpace(m.Serial), n.lineOf(at(first, "serial")), p.Meters[first].ID)
		} else {
			serials[folded(m.Serial)] = i
		}
		first, ok := papers[folded(m.Certificate)]
		if m.Certificate == "" || !ok {
			papers[folded(m.Certificate)] = i
		} else if before := p.Meters[first]; !m.Due.Equal(before.Due) {
			n.Object(at(i, "due"), "%s, but certificate %s is due on %s for %s at %s: one certificate has one due date",
				day(m.Due), m.Certificate, day(before.Due), before.ID, n.lineOf(at(first, "due")))
		}
	}
	for i, q := range p.People {
		path := fmt.Sprintf("people[%d].name", i+1)
		if first, ok := people[folded(q.Name)]; ok && q.Name != "" {
			n.Object(path, "%s stands already at %s, as %s (%s): a person stands once, under one id and role",
				q.Name, n.lineOf(fmt.Sprintf("people[%d].name", first+1)), p.People[first].ID, p.People[first].Role)
		} else {
			people[folded(q.Name)] = i
		}
	}
	n.plantApart(p)
	n.plates(p)
	n.ownForm(p.Form)
	n.titlesApart(p)
}

func day(t time.Time) string { return t.Format("2006-01-02") }

// plantApart notes plant whose ids only capitals tell apart.
func (n *Notes) plantApart(p *Plan) {
	seen := map[string]string{}
	once := func(path, id string) {
		if first, ok := seen[folded(id)]; ok && first != id && id != "" {
			n.Object(path, "%q differs from %q by capitals alone: give it a name of its own", id, first)
		}
		seen[folded(id)] = id
	}
	for i, t := range p.Plant.Transformers {
		once(fmt.Sprintf("plant.transformers[%d].id", i+1), t.ID)
	}
	for i, x := range p.Plant.Incomers {
		once(fmt.Sprintf("plant.incomers[%d].id", i+1), x.ID)
	}
	for i, b := range p.Plant.Boards {
		once(fmt.Sprintf("plant.boards[%d].id", i+1), b.ID)
	}
}

// titlesApart warns of two checks that nobody could tell apart on a sheet.
func (n *Notes) titlesApart(p *Plan) {
	seen := map[string]*Check{}
	for _, c := range p.Checks() {
		if c.Kind == nil {
			continue
		}
		key := strings.Join([]string{c.Kind.Name, folded(c.Title), folded(c.At)}, "\n")
		if first := seen[key]; first != nil {
			n.warn(c.Path+".check", "check %s has the kind, title and place of check %s at %s: give each a title that tells them apart", c.ID, first.ID, n.lineOf(first.Path+".check"))
		}
		seen[key] = c
	}
}

// The most characters and lines of a text, so that a sheet can show it (our choice): a
// row is 409 points high at most.
const (
	mostTitle = 200
	mostName  = 120
	mostText  = 1000
	mostLines = 20
)

var textBounds = map[string]int{"title": mostTitle, "at": mostTitle, "name": mostName, "firm": mostName, "serial": mostName, "certificate": mostName, "id": mostName}

// text notes what a sheet or a terminal cannot show as it stands in the file.
func (n *Notes) text(path, text string) {
	if strings.Contains(path, ".keys[") {
		return // a key has the length of its kind
	}
	most, lines := textBounds[path[strings.LastIndexByte(path, '.')+1:]], 1
	if most == 0 {
		most, lines = mostText, mostLines
	}
	if got := utf8.RuneCountInString(text); got > most {
		n.Object(path, "%d characters: at most %d are accepted, so that a sheet can show them", got, most)
	}
	if got := 1 + strings.Count(strings.TrimSpace(text), "\n"); got > lines {
		n.Object(path, "%d lines: at most %d are accepted, so that a sheet can show them", got, lines)
	}
	for _, r := range text {
		if unseen(r) {
			n.Object(path, "holds a character that is not seen (U+%04X): type plain text", r)
			return
		}
	}
}

// unseen tells marks that take no place on a screen and change what stands there:
// directions, joins of nothing, line and paragraph separators. The joiners that some
// scripts write with are let be.
func unseen(r rune) bool {
	return r != '\u200c' && r != '\u200d' && unicode.In(r, unicode.Cf, unicode.Zl, unicode.Zp)
}

// emptyReasons are words that answer a question for a reason without giving one.
var emptyReasons = []string{"ok", "okay", "yes", "no", "fine", "good", "done", "none", "nothing", "because", "reason", "why", "words",
	"test", "testing", "see above", "same", "as before", "not applicable", "unknown", "whatever", "todo", "replace",
	"accept", "accepted", "concede", "conceded", "keep", "kept", "repeat", "repeated", "skip", "skipped", "correct", "corrected", "past hold"}

// Reasoned refuses a reason that says nothing: fewer than four letters, fewer than
// three different ones, or no more than a word of the command it was asked by.
// Any script's letters count; what the reason is worth is for its reader.
func Reasoned(text string) error {
	letters, seen := 0, map[rune]bool{}
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	for _, r := range strings.Join(words, "") {
		if unicode.IsLetter(r) {
			letters++
			seen[r] = true
		}
	}
	if letters < 4 || len(seen) < 3 || slices.Contains(emptyReasons, strings.Join(words, " ")) {
		return fmt.Errorf("%q gives no reason: say in words what was seen or decided", strings.TrimSpace(text))
	}
	return nil
}

// keyParts says what follows the name of a key's type in its blob: so many bytes a
// part, 0 for any number. RFC 8709 for ssh-ed25519, RFC 5656 for ecdsa, RFC 4253 for
// ssh-rsa.
var keyParts = map[string][]int{
	"ssh-ed25519":         {32},
	"ecdsa-sha2-nistp256": {8, 65},
	"ecdsa-sha2-nistp384": {8, 97},
	"ecdsa-sha2-nistp521": {8, 133},
	"ssh-rsa":             {0, 0},
}

// minRSA is the shortest modulus of an RSA key in bytes: 2048 bits.
const minRSA = 2048 / 8

// keyBlob reads one line of an OpenSSH public key file, "TYPE BASE64 [COMMENT]", and
// gives the decoded key. A key cut short or mistyped is an error; whether its point
// lies on the curve is for whoever uses it to see.
func keyBlob(line string) ([]byte, error) {
	words := strings.Fields(line)
	if len(words) < 2 {
		return nil, errors.New("a public key line is wanted, such as ssh-ed25519 AAAA…; 'handback key show FILE' prints it")
	}
	parts, ok := keyParts[words[0]]
	if !ok {
		accepted := []string{}
		for name := range keyParts {
			accepted = append(accepted, name)
		}
		slices.Sort(accepted)
		return nil, fmt.Errorf("keys of type %.40q do not sign here; accepted are %s", words[0], strings.Join(accepted, ", "))
	}
	broken := fmt.Errorf("the %s key is not whole: copy its line again, in one piece", words[0])
	blob, err := base64.StdEncoding.Strict().DecodeString(words[1])
	if err != nil {
		return nil, broken
	}
	name, rest, ok := cutPart(blob)
	if !ok || string(name) != words[0] {
		return nil, broken
	}
	for _, size := range parts {
		var part []byte
		if part, rest, ok = cutPart(rest); !ok || size > 0 && len(part) != size {
			return nil, broken
		}
		if words[0] == "ssh-rsa" && len(rest) == 0 && len(bytes.TrimLeft(part, "\x00")) < minRSA {
			return nil, fmt.Errorf("an RSA key of less than %d bits does not sign here", 8*minRSA)
		}
	}
	if len(rest) > 0 {
		return nil, broken
	}
	return blob, nil
}

// cutPart cuts a part off that begins with its length in four bytes (RFC 4251).
func cutPart(b []byte) (part, rest []byte, ok bool) {
	if len(b) < 4 {
		return nil, nil, false
	}
	n := int64(b[0])<<24 | int64(b[1])<<16 | int64(b[2])<<8 | int64(b[3])
	if b = b[4:]; n > int64(len(b)) {
		return nil, nil, false
	}
	return b[:n], b[n:], true
}

// signKeys notes keys that cannot sign, and keys that stand twice: two people with
// one key could each sign for the other.
func (n *Notes) signKeys(people []Person) {
	seen := map[string]string{}
	for i, q := range people {
		for k, line := range q.Keys {
			path := fmt.Sprintf("people[%d].keys[%d]", i+1, k+1)
			blob, err := keyBlob(line)
			if err != nil {
				n.At(path, "%v", err)
				continue
			}
			if first, ok := seen[string(blob)]; ok {
				n.At(path, "this key stands already at %s: a key is one person's", n.lineOf(first))
				continue
			}
			seen[string(blob)] = path
		}
	}
	for i, q := range people {
		for k, r := range q.Revoked {
			path := fmt.Sprintf("people[%d].revoked[%d].key", i+1, k+1)
			blob, err := keyBlob(r.Key)
			if err != nil {
				n.At(path, "%v", err)
			} else if first, ok := seen[string(blob)]; ok {
				n.At(path, "this key is revoked, and is listed at %s: take it out there", n.lineOf(first))
			}
		}
	}
}

// lowPattern is the shape of an id of what is no plant.
const lowPattern = "^[a-z0-9][a-z0-9-]{0,39}$"

// placePatterns are what texts look like by their places.
var placePatterns = map[string]string{
	"id": lowPattern, "people.id": lowPattern, "instruments.id": lowPattern, "imports.id": lowPattern, "procedures.id": lowPattern,
	"check.check": lowPattern, "hold.hold": lowPattern, "step.step": lowPattern,
	"plant.transformers.id": "^" + idPattern + "$", "plant.incomers.id": "^" + idPattern + "$", "plant.boards.id": "^" + idPattern + "$",
	"plant.transformers.year": yearPattern, "plant.incomers.year": yearPattern, "plant.boards.year": yearPattern,
	"plant.transformers.group": `^((YN?(d|zn?)|(D|ZN?)yn?)(1|3|5|7|9|11)|(YN?yn?|(D|ZN?)(d|zn?))(0|2|4|6|8|10))$`, // power.ParseGroup
	"people.keys":              `^\s*(ssh|ecdsa|sk)-[^\s]+\s+AAAA[A-Za-z0-9+/]+=*(\s.*)?$`,
}

const yearPattern = "^([12][0-9]{3})?$"

// datePattern is a day of a month that has it, and perhaps a time; that 29 February is in
// a leap year it does not tell.
const datePattern = `^[0-9]{4}-((0[13578]|1[02])-(0[1-9]|[12][0-9]|3[01])|(0[469]|11)-(0[1-9]|[12][0-9]|30)|02-(0[1-9]|[12][0-9]))(T.+)?$`

// notPositive is a number below zero, or zero.
const notPositive = `^\s*([-−]|\+?[0.,]+\s*($|[^0-9.,\s]))`
