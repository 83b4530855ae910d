package chain

import (
	"encoding/pem"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/crypto/ssh"

	"handback/testdata/outside"
)

// keygen runs OpenSSH's ssh-keygen, a verifier that knows nothing of this program.
func keygen(t *testing.T, stdin string, args ...string) (string, error) {
	t.Helper()
	c := exec.Command(outside.Tool(t, "ssh-keygen"), args...)
	c.Stdin = strings.NewReader(stdin)
	out, err := c.CombinedOutput()
	return string(out), err
}

func put(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// accepted asks ssh-keygen whether a signature is eva's.
func accepted(t *testing.T, statement, armoured, signers, person, namespace string, more ...string) bool {
	t.Helper()
	args := append([]string{"-Y", "verify", "-f", put(t, "allowed_signers", signers), "-I", person, "-n", namespace, "-s", put(t, "sig", armoured)}, more...)
	out, err := keygen(t, statement, args...)
	if (err == nil) != strings.Contains(out, `Good "`+namespace+`" signature for `+person+" ") {
		t.Fatalf("ssh-keygen says %q beside %v", out, err)
	}
	return err == nil
}

// What is signed here ssh-keygen accepts, and nothing else in its place.
func TestSignStatement_sshKeygenVerifies(t *testing.T) {
	b, err := saidBy().Encode()
	if err != nil {
		t.Fatal(err)
	}
	statement := string(b)
	for name, key := range madeKeys(t) {
		t.Run(name, func(t *testing.T) {
			armoured := signed(t, statement, key)
			eva := Signer{People: "eva", Namespaces: StatementNamespace, Key: key.PublicKey()}.String() + "\n"
			if !accepted(t, statement, armoured, eva, "eva", StatementNamespace) {
				t.Error("ssh-keygen refuses it")
			}
			for what, ok := range map[string]bool{
				"a changed byte":    accepted(t, strings.Replace(statement, "pump-1", "pump-2", 1), armoured, eva, "eva", StatementNamespace),
				"another person":    accepted(t, statement, armoured, eva, "ada", StatementNamespace),
				"another namespace": accepted(t, statement, armoured, strings.Replace(eva, StatementNamespace, "file", 1), "eva", "file"),
				"another key":       accepted(t, statement, armoured, Signer{People: "eva", Key: seedKey(t, 99).PublicKey()}.String()+"\n", "eva", StatementNamespace),
			} {
				if ok {
					t.Errorf("ssh-keygen accepts %s", what)
				}
			}
		})
	}
}

// What ssh-keygen signs is accepted here, with every sort of key and both hashes.
func TestCheckSignature_sshKeygenSigns(t *testing.T) {
	for name, key := range map[string][]string{"ed25519": {"-t", "ed25519"}, "ecdsa-256": {"-t", "ecdsa", "-b", "256"}, "ecdsa-384": {"-t", "ecdsa", "-b", "384"},
		"ecdsa-521": {"-t", "ecdsa", "-b", "521"}, "rsa": {"-t", "rsa", "-b", "3072"}} {
		t.Run(name, func(t *testing.T) {
			if name == "rsa" {
				outside.Long(t) // the key is long in the making
			}
			file := filepath.Join(t.TempDir(), "key")
			if out, err := keygen(t, "", append(key, "-q", "-N", "", "-C", "eva", "-f", file)...); err != nil {
				t.Fatal(out, err)
			}
			line, err := os.ReadFile(file + ".pub")
			if err != nil {
				t.Fatal(err)
			}
			want, comment, err := ParseKey(string(line))
			if err != nil || comment != "eva" {
				t.Fatalf("%q, %v", comment, err)
			}
			for _, hash := range []string{"sha256", "sha512"} {
				armoured, err := keygen(t, "statement", "-Y", "sign", "-f", file, "-n", StatementNamespace, "-O", "hashalg="+hash)
				if err != nil {
					t.Fatal(armoured, err)
				}
				begin := strings.Index(armoured, "-----BEGIN") // talk comes before it
				by, err := CheckSignature([]byte("statement"), armoured[begin:])
				if err != nil || KeyLine(by) != KeyLine(want) {
					t.Errorf("%s: %v, %v", hash, by, err)
				}
				if _, err := CheckSignature([]byte("statements"), armoured[begin:]); err == nil {
					t.Errorf("%s: other bytes are accepted", hash)
				}
				other, err := keygen(t, "statement", "-Y", "sign", "-f", file, "-n", "file", "-O", "hashalg="+hash)
				if err != nil {
					t.Fatal(other, err)
				}
				if _, err := CheckSignature([]byte("statement"), other[strings.Index(other, "-----BEGIN"):]); err == nil || !strings.Contains(err.Error(), `namespace "file"`) {
					t.Errorf("%s: a signature for files: %v", hash, err)
				}
			}
		})
	}
}

// Lines of allowed signers mean here what they mean to ssh-keygen.
func TestSigners_asSSHKeygen(t *testing.T) {
	key := seedKey(t, 1)
	line := KeyLine(key.PublicKey())
	armoured := signed(t, "statement", key)
	at := time.Date(2026, 5, 12, 12, 0, 0, 0, time.UTC)
	allowed, refused := 0, 0
	for _, text := range []string{
		"eva " + line, "ada " + line, "ada,eva " + line, `"ada,eva" ` + line, "e*a " + line, "e?a " + line, "e?va " + line, "*,!eva " + line, "!ada,e* " + line, "*a*v*a " + line, "ev " + line, "Eva " + line,
		`eva namespaces="file" ` + line, `eva namespaces="file,handback-*" ` + line, `eva namespaces="!handback-statement,*" ` + line, `eva NameSpaces="handback-statement" ` + line,
		`eva valid-after="20260512120000Z" ` + line, `eva valid-after="20260512120001Z" ` + line, `eva valid-before="20260512120000Z" ` + line, `eva valid-before="20260512115959Z" ` + line,
		`eva valid-after="20260101Z",valid-before="20270101Z",namespaces="handback-statement" ` + line, `eva valid-after="202605121201Z" ` + line,
		`eva nonsense="x" ` + line, `eva namespaces=file ` + line, `eva namespaces="a",namespaces="handback-statement" ` + line,
		"ada " + line + "\n\n# and\neva " + line, `eva namespaces="file" ` + line + "\neva " + line,
	} {
		list, err := ParseSigners([]byte(text+"\n"), time.UTC)
		ours := err == nil && list.Allow("eva", key.PublicKey(), at) == nil
		theirs := accepted(t, "statement", armoured, text+"\n", "eva", StatementNamespace, "-O", "verify-time=20260512120000Z")
		if ours != theirs {
			t.Errorf("%s: ssh-keygen says %v, here it is %v (%v)", text, theirs, ours, err)
		}
		if theirs {
			allowed++
		} else {
			refused++
		}
	}
	if allowed < 10 || refused < 10 {
		t.Errorf("%d allowed, %d refused: ssh-keygen was not asked as meant", allowed, refused)
	}
}

// A key that is made here is one that ssh-keygen opens, and the other way round.
func TestNewKey_sshKeygenReads(t *testing.T) {
	outside.Long(t)
	block, public, err := NewKeyFile(seedKey32(3), "eva", []byte("four words for eva"))
	if err != nil || KeyLine(public) != KeyLine(seedKey(t, 3).PublicKey()) {
		t.Fatal(public, err)
	}
	if p, _ := pem.Decode(block); p == nil || p.Type != "OPENSSH PRIVATE KEY" {
		t.Fatalf("%.40q", block)
	}
	file := put(t, "key", string(block))
	line, err := keygen(t, "", "-y", "-P", "four words for eva", "-f", file)
	if want := KeyLine(seedKey(t, 3).PublicKey()); err != nil || strings.TrimSpace(line) != want+" eva" {
		t.Errorf("ssh-keygen reads %q, %v; want %s", line, err, want)
	}
	if line, err = keygen(t, "", "-y", "-P", "other words", "-f", file); err == nil {
		t.Errorf("ssh-keygen opens it with other words: %s", line)
	}
	if _, err := ssh.ParsePrivateKeyWithPassphrase(block, []byte("four words for eva")); err != nil {
		t.Error(err)
	}
}
