package chain

import (
	"bytes"
	"fmt"
	"strings"

	"golang.org/x/crypto/ssh"
)

// RoleNamespace is the namespace that a line of allowed signers names beside
// StatementNamespace where its key signs in a role, as in
//
//	eva namespaces="handback-statement,handback-statement-engineer" ssh-ed25519 AAAA…
//
// A list of namespaces is where OpenSSH itself says what a key is good for, so that
// ssh-keygen reads the file as it is; an option of our own it would refuse. The
// signature stays one for StatementNamespace, as those of all versions are.
func RoleNamespace(role string) string { return StatementNamespace + "-" + role }

// AllowRole says why a key does not sign for a person in a role, nil when a line allows
// it or no line of theirs says in which roles the key signs. bound tells which: a role
// that no line says is that of the plan alone.
func (s Signers) AllowRole(person string, key ssh.PublicKey, role string) (bound bool, err error) {
	var others []string
	for _, l := range s {
		if l.Namespaces == "" || !bytes.Equal(l.Key.Marshal(), key.Marshal()) || !matchList(person, l.People) {
			continue
		}
		for _, r := range Roles {
			if matchList(RoleNamespace(r), l.Namespaces) {
				others = append(others, r)
			}
		}
		if matchList(RoleNamespace(role), l.Namespaces) {
			return true, nil
		}
	}
	if len(others) == 0 {
		return false, nil
	}
	return false, fmt.Errorf("key %s is listed for %s as %s, not as %s", ssh.FingerprintSHA256(key), person, strings.Join(others, ", "), role)
}
