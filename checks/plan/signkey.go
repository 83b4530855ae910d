package plan

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"
	"slices"
	"strings"
)

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
				n.At(path, "this key stands already at line %d: a key is one person's", n.placeOf(first).Line)
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
				n.At(path, "this key is revoked, and is listed at line %d: take it out there", n.placeOf(first).Line)
			}
		}
	}
}
