package chain

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"golang.org/x/crypto/ssh"
)

// What ssh-keygen revokes is revoked here, however its list names the key: ssh-keygen -Q
// says of each key the same. Sections as in OpenSSH, PROTOCOL.krl.
func TestParseRevoked_sshKeygen(t *testing.T) {
	lost, other := seedKey(t, 1).PublicKey(), seedKey(t, 2).PublicKey()
	for name, spec := range map[string]string{
		"key":         KeyLine(lost),
		"explicit":    "key: " + KeyLine(lost),
		"sha1":        "sha1: " + KeyLine(lost),
		"sha256":      "sha256: " + KeyLine(lost),
		"fingerprint": "hash: " + ssh.FingerprintSHA256(lost),
		"nothing":     "",
	} {
		list := filepath.Join(t.TempDir(), "krl")
		if out, err := keygen(t, "", "-k", "-z", "7", "-f", list, put(t, "spec", spec+"\n")); err != nil {
			t.Fatalf("%s: %v: %s", name, err, out)
		}
		data, err := os.ReadFile(list)
		if err != nil {
			t.Fatal(err)
		}
		r, err := ParseRevoked(data)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for _, key := range []ssh.PublicKey{lost, other} {
			_, free := keygen(t, "", "-Q", "-f", list, put(t, "one.pub", KeyLine(key)+"\n"))
			if r.Holds(key) != (free != nil) {
				t.Errorf("%s: %s is revoked: %v here, %v by ssh-keygen", name, KeyLine(key), r.Holds(key), free != nil)
			}
		}
		if r.Holds(lost) != (spec != "") {
			t.Errorf("%s: revoked %v", name, r.Holds(lost))
		}
		for n := 1; n < len(data); n++ { // 44 bytes are a whole list of no sections
			if _, err := ParseRevoked(data[:n]); err == nil && n != 44 {
				t.Errorf("%s: cut at %d of %d it is read", name, n, len(data))
			}
		}
	}
}

func TestParseRevoked_lines(t *testing.T) {
	lost := seedKey(t, 1).PublicKey()
	r, err := ParseRevoked([]byte("# lost on the train\n\n" + KeyLine(lost) + " eva\n"))
	if err != nil || !r.Holds(lost) || r.Holds(seedKey(t, 2).PublicKey()) {
		t.Errorf("%v %v", r, err)
	}
	for text, want := range map[string]string{
		"not a key":          "line 1: ",
		"\nssh-ed25519 AAAA": "line 2: ",
		string(krlMagic):     "cut short",
		string(krlMagic) + strings.Repeat("\x00", 40):                                                                                    "version 0",
		string(krlMagic) + "\x00\x00\x00\x01" + strings.Repeat("\x00", 32) + "\x09\x00\x00\x00\x00":                                      "section 9",
		string(krlMagic) + "\x00\x00\x00\x01" + strings.Repeat("\x00", 32) + "\xff\x00\x00\x00\x09\x00\x00\x00\x01x\x01\x00\x00\x00\x00": `extension "x"`,
	} {
		if _, err := ParseRevoked([]byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

// Which role a key signs in is read from the namespaces, of which ssh-keygen reads the
// same file (ssh-keygen(1), ALLOWED SIGNERS).
func TestSigners_roles(t *testing.T) {
	b, err := saidBy().Encode()
	if err != nil {
		t.Fatal(err)
	}
	key, other := seedKey(t, 1), seedKey(t, 2)
	armoured := signed(t, string(b), key)
	for options, c := range map[string]struct {
		engineer, owner string // "bound", "unsaid" or part of why not
		keygen          bool
	}{
		"":                                 {"unsaid", "unsaid", true},
		`namespaces="handback-statement" `: {"unsaid", "unsaid", true},
		`namespaces="handback-statement,handback-statement-engineer" `:                            {"bound", "as engineer, not as owner", true},
		`namespaces="handback-statement,handback-statement-owner,handback-statement-technician" `: {"as technician, owner, not as engineer", "bound", true},
		`namespaces="handback-statement*" `:                                                       {"bound", "bound", true},
		`namespaces="handback-statement-engineer" `:                                               {"bound", "as engineer, not as owner", false},
		`namespaces="handback-statement*,!handback-statement-owner" `:                             {"bound", "as technician, engineer, not as owner", true},
	} {
		text := "eva " + options + KeyLine(key.PublicKey()) + "\nada namespaces=\"handback-statement*\" " + KeyLine(key.PublicKey()) + "\n"
		list, err := ParseSigners([]byte(text), nil)
		if err != nil {
			t.Fatal(err)
		}
		for role, want := range map[string]string{"engineer": c.engineer, "owner": c.owner} {
			bound, err := list.AllowRole("eva", key.PublicKey(), role)
			got := "unsaid"
			if bound {
				got = "bound"
			}
			if err != nil {
				got = err.Error()
			}
			if !strings.Contains(got, want) {
				t.Errorf("%q as %s: %s, want %s", options, role, got, want)
			}
		}
		if got := accepted(t, string(b), armoured, text, "eva", StatementNamespace); got != c.keygen {
			t.Errorf("%q: ssh-keygen says %v", options, got)
		}
		if bound, err := list.AllowRole("eva", other.PublicKey(), "engineer"); bound || err != nil {
			t.Errorf("%q: another key: %v %v", options, bound, err)
		}
	}
}
