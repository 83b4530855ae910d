package chain

import (
	"bytes"
	"crypto/sha1"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/crypto/ssh"
)

// maxRevoked bounds a file of revoked keys.
const maxRevoked = 4 << 20

// Revoked are keys that no signature counts by any more.
type Revoked struct {
	blobs, sha1s, sha256s map[string]bool
}

// Holds tells whether a key is among them.
func (r Revoked) Holds(key ssh.PublicKey) bool {
	blob := key.Marshal()
	old, now := sha1.Sum(blob), sha256.Sum256(blob)
	return r.blobs[string(blob)] || r.sha1s[string(old[:])] || r.sha256s[string(now[:])]
}

// krlMagic begins a key revocation list.
var krlMagic = []byte("SSHKRL\n\x00")

// ParseRevoked reads what ssh-keygen -Y verify -r takes: a key revocation list as
// ssh-keygen -k makes it (OpenSSH, PROTOCOL.krl), or public keys, one a line. Sections
// on certificates are passed over, for no certificate signs here.
//
// Errors: what cannot be read; a section that is not known: a list read in part would
// revoke less than it says.
func ParseRevoked(data []byte) (Revoked, error) {
	r := Revoked{map[string]bool{}, map[string]bool{}, map[string]bool{}}
	if len(data) > maxRevoked {
		return r, fmt.Errorf("revoked keys of %d bytes: at most %d are read", len(data), maxRevoked)
	}
	if rest, ok := bytes.CutPrefix(data, krlMagic); ok {
		return r, r.list(rest)
	}
	for i, line := range strings.Split(string(data), "\n") {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		key, _, err := ParseKey(line)
		if err != nil {
			return r, fmt.Errorf("revoked keys, line %d: %w", i+1, err)
		}
		r.blobs[string(key.Marshal())] = true
	}
	return r, nil
}

// Sections of a key revocation list.
const (
	krlCertificates = 1
	krlKeys         = 2
	krlSHA1         = 3
	krlSHA256       = 5
	krlExtension    = 255
)

// list reads what follows the magic: format version, list version, date and flags as
// numbers of 4, 8, 8 and 8 bytes, two texts, then sections.
func (r Revoked) list(data []byte) error {
	short := errors.New("revoked keys: the list is cut short")
	if len(data) < 28 {
		return short
	}
	if v := binary.BigEndian.Uint32(data); v != 1 {
		return fmt.Errorf("revoked keys: format version %d of the list is not known, 1 is", v)
	}
	rest, ok := data[28:], true
	for range 2 { // reserved, comment
		if _, rest, ok = cutString(rest); !ok {
			return short
		}
	}
	for len(rest) > 0 {
		kind := rest[0]
		var section []byte
		if section, rest, ok = cutString(rest[1:]); !ok {
			return short
		}
		into, size := map[string]bool(nil), 0
		switch kind {
		case krlCertificates:
			continue
		case krlExtension:
			name, after, ok := cutString(section)
			if !ok || len(after) == 0 || after[0] != 0 {
				return fmt.Errorf("revoked keys: the list has an extension %.40q that must be understood and is not known", name)
			}
			continue
		case krlKeys:
			into = r.blobs
		case krlSHA1:
			into, size = r.sha1s, sha1.Size
		case krlSHA256:
			into, size = r.sha256s, sha256.Size
		default:
			return fmt.Errorf("revoked keys: section %d of the list is not known", kind)
		}
		for len(section) > 0 {
			var one []byte
			if one, section, ok = cutString(section); !ok || size > 0 && len(one) != size {
				return short
			}
			into[string(one)] = true
		}
	}
	return nil
}

// cutString cuts off a text with its length in four bytes before it.
func cutString(b []byte) (text, rest []byte, ok bool) {
	if len(b) < 4 {
		return nil, nil, false
	}
	n := binary.BigEndian.Uint32(b)
	if uint64(n) > uint64(len(b)-4) {
		return nil, nil, false
	}
	return b[4 : 4+n], b[4+n:], true
}
