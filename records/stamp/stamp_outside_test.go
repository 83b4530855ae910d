package stamp

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"handback/testdata/outside"
)

// authority is an invented authority of time, made by openssl in a folder of its own.
type authority struct {
	testing.TB
	dir string
}

const settings = `
[tsa]
default_tsa = one
[one]
serial = ./serial
signer_cert = ./tsa.pem
signer_key = ./tsa.key
signer_digest = DIGEST
default_policy = 1.3.6.1.4.1.99999.1
digests = sha256, sha512
accuracy = secs:1, millisecs:500, microsecs:100
ess_cert_id_alg = ESS
[good]
extendedKeyUsage = critical,timeStamping
keyUsage = critical,digitalSignature
`

func newAuthority(t testing.TB, key []string, digest, ess string) authority {
	t.Helper()
	a := authority{t, t.TempDir()}
	a.write("tsa.cnf", strings.NewReplacer("DIGEST", digest, "ESS", ess).Replace(settings))
	a.write("serial", "01\n")
	newKey := append([]string{"-newkey"}, key...)
	a.run(append(append([]string{"req", "-x509"}, newKey...), "-nodes", "-keyout", "ca.key", "-out", "ca.pem", "-days", "3650", "-subj", "/CN=Invented root")...)
	a.run(append(append([]string{"req"}, newKey...), "-nodes", "-keyout", "tsa.key", "-out", "tsa.csr", "-subj", "/CN=Invented authority of time")...)
	a.run("x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-out", "tsa.pem", "-days", "3000", "-extfile", "tsa.cnf", "-extensions", "good")
	return a
}

func (a authority) write(name, text string) {
	a.Helper()
	if err := os.WriteFile(filepath.Join(a.dir, name), []byte(text), 0o600); err != nil {
		a.Fatal(err)
	}
}

func (a authority) read(name string) []byte {
	a.Helper()
	data, err := os.ReadFile(filepath.Join(a.dir, name))
	if err != nil {
		a.Fatal(err)
	}
	return data
}

func (a authority) run(args ...string) string {
	a.Helper()
	c := exec.Command(outside.Tool(a, "openssl", "version"), args...)
	c.Dir = a.dir
	out, err := c.CombinedOutput()
	if err != nil {
		a.Fatalf("openssl %v: %v: %s", args, err, out)
	}
	return string(out)
}

// stamps is the reply to our query of a hash.
func (a authority) stamps(hash [32]byte) []byte {
	a.Helper()
	query, err := Query(hash)
	if err != nil {
		a.Fatal(err)
	}
	a.write("q.tsq", string(query))
	a.run("ts", "-reply", "-config", "tsa.cnf", "-queryfile", "q.tsq", "-out", "r.tsr")
	return a.read("r.tsr")
}

func (a authority) trusted() Authorities {
	a.Helper()
	out, err := ParseAuthorities(a.read("ca.pem"))
	if err != nil {
		a.Fatal(err)
	}
	return out
}

var hash = sha256.Sum256([]byte("the head of an invented record"))

// A query is byte for byte the one that openssl makes of the hash, and the reply to it is
// read as openssl reads it (RFC 3161).
func TestParse_openssl(t *testing.T) {
	outside.Long(t)
	rsa, ec := []string{"rsa:2048"}, []string{"ec", "-pkeyopt", "ec_paramgen_curve:P-256"}
	for name, a := range map[string]authority{
		"rsa":                newAuthority(t, rsa, "sha256", "sha256"),
		"rsa 512, ess v1":    newAuthority(t, rsa, "sha512", "sha1"),
		"ecdsa":              newAuthority(t, ec, "sha256", "sha256"),
		"ecdsa 384, ess 512": newAuthority(t, ec, "sha384", "sha512"),
	} {
		data := a.stamps(hash)
		a.run("ts", "-query", "-digest", hex.EncodeToString(hash[:]), "-sha256", "-cert", "-no_nonce", "-out", "theirs.tsq")
		if !bytes.Equal(a.read("theirs.tsq"), a.read("q.tsq")) {
			t.Errorf("%s: the query is another: %x, openssl %x", name, a.read("q.tsq"), a.read("theirs.tsq"))
		}
		if out := a.run("ts", "-verify", "-digest", hex.EncodeToString(hash[:]), "-in", "r.tsr", "-CAfile", "ca.pem"); !strings.Contains(out, "Verification: OK") {
			t.Errorf("%s: openssl says %s", name, out)
		}
		token, err := Parse(data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		said := a.run("ts", "-reply", "-in", "r.tsr", "-text")
		if !strings.Contains(said, "Time stamp: "+token.At.UTC().Format("Jan _2 15:04:05 2006 GMT")) || token.By() != token.At.Add(1500100*time.Microsecond) {
			t.Errorf("%s: %v within %v here, openssl says %s", name, token.At, token.Within, said)
		}
		if !bytes.Equal(token.Hash, hash[:]) || token.Authority != "CN=Invented authority of time" {
			t.Errorf("%s: %x by %s", name, token.Hash, token.Authority)
		}
		if err := a.trusted().Trust(token); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := newAuthority(t, ec, "sha256", "sha256").trusted().Trust(token); err == nil {
			t.Errorf("%s: it leads to any root", name)
		}
	}
}

// A token of which any byte of what matters is another is refused, or says the same.
func TestParse_everyByte(t *testing.T) {
	outside.Long(t)
	a := newAuthority(t, []string{"ec", "-pkeyopt", "ec_paramgen_curve:P-256"}, "sha256", "sha256")
	data, roots := a.stamps(hash), a.trusted()
	good, err := Parse(data)
	if err != nil {
		t.Fatal(err)
	}
	for i := range data {
		bad := bytes.Clone(data)
		bad[i] ^= 1
		token, err := Parse(bad)
		if err != nil || roots.Trust(token) != nil {
			continue
		}
		if !bytes.Equal(token.Hash, good.Hash) || !token.At.Equal(good.At) || token.Within != good.Within {
			t.Errorf("byte %d: it tells of %x at %s", i, token.Hash, token.At)
		}
	}
	for n := range data {
		if _, err := Parse(data[:n]); err == nil {
			t.Errorf("cut at %d of %d it is read", n, len(data))
		}
	}
	if _, err := Parse(append(bytes.Clone(data), 0)); err == nil {
		t.Error("a byte follows, and it is read")
	}
}

// Certificates that openssl refuses for a time stamp are refused here.
func TestTrust_certificate(t *testing.T) {
	a := newAuthority(t, []string{"ec", "-pkeyopt", "ec_paramgen_curve:P-256"}, "sha256", "sha256")
	token, err := Parse(a.stamps(hash))
	if err != nil {
		t.Fatal(err)
	}
	late := *token
	late.At = token.Ends.Add(time.Hour)
	if err := a.trusted().Trust(&late); err == nil || !strings.Contains(err.Error(), "expired") {
		t.Errorf("after its certificate ended: %v", err)
	}
	plain := *token
	c := *token.signer
	c.ExtKeyUsage = append(c.ExtKeyUsage, 1)
	plain.signer = &c
	if err := a.trusted().Trust(&plain); err == nil || !strings.Contains(err.Error(), "not for time stamps alone") {
		t.Errorf("for other things too: %v", err)
	}
	a.write("q.tsq", "not a query")
	a.run("ts", "-reply", "-config", "tsa.cnf", "-queryfile", "q.tsq", "-out", "no.tsr")
	if _, err := Parse(a.read("no.tsr")); err == nil || !strings.Contains(err.Error(), "the authority refused it with status 2") {
		t.Errorf("a refusal: %v", err)
	}
	if _, err := ParseAuthorities([]byte("none")); err == nil {
		t.Error("no certificate is one")
	}
}
