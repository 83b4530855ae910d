package stamp

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"strings"
	"testing"
	"time"

	"handback/testdata/outside"
)

// stamps is the reply to our query of a hash.
func stamps(a outside.Authority, hash [32]byte) []byte {
	a.Helper()
	query, err := Query(hash)
	if err != nil {
		a.Fatal(err)
	}
	return a.Reply(query)
}

func trusted(a outside.Authority) Authorities {
	a.Helper()
	out, err := ParseAuthorities(a.Read("ca.pem"))
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
	for name, a := range map[string]outside.Authority{
		"rsa":                outside.NewAuthority(t, rsa, "sha256", "sha256"),
		"rsa 512, ess v1":    outside.NewAuthority(t, rsa, "sha512", "sha1"),
		"ecdsa":              outside.NewAuthority(t, ec, "sha256", "sha256"),
		"ecdsa 384, ess 512": outside.NewAuthority(t, ec, "sha384", "sha512"),
	} {
		data := stamps(a, hash)
		a.Run("ts", "-query", "-digest", hex.EncodeToString(hash[:]), "-sha256", "-cert", "-no_nonce", "-out", "theirs.tsq")
		if !bytes.Equal(a.Read("theirs.tsq"), a.Read("q.tsq")) {
			t.Errorf("%s: the query is another: %x, openssl %x", name, a.Read("q.tsq"), a.Read("theirs.tsq"))
		}
		if out := a.Run("ts", "-verify", "-digest", hex.EncodeToString(hash[:]), "-in", "r.tsr", "-CAfile", "ca.pem"); !strings.Contains(out, "Verification: OK") {
			t.Errorf("%s: openssl says %s", name, out)
		}
		token, err := Parse(data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		said := a.Run("ts", "-reply", "-in", "r.tsr", "-text")
		if !strings.Contains(said, "Time stamp: "+token.At.UTC().Format("Jan _2 15:04:05 2006 GMT")) || token.By() != token.At.Add(1500100*time.Microsecond) {
			t.Errorf("%s: %v within %v here, openssl says %s", name, token.At, token.Within, said)
		}
		if !bytes.Equal(token.Hash, hash[:]) || token.Authority != "CN=Invented authority of time" {
			t.Errorf("%s: %x by %s", name, token.Hash, token.Authority)
		}
		if err := trusted(a).Trust(token); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if err := trusted(outside.NewAuthority(t, ec, "sha256", "sha256")).Trust(token); err == nil {
			t.Errorf("%s: it leads to any root", name)
		}
	}
}

// A token of which any byte of what matters is another is refused, or says the same.
func TestParse_everyByte(t *testing.T) {
	outside.Long(t)
	a := outside.NewAuthority(t, []string{"ec", "-pkeyopt", "ec_paramgen_curve:P-256"}, "sha256", "sha256")
	data, roots := stamps(a, hash), trusted(a)
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
	a := outside.NewAuthority(t, []string{"ec", "-pkeyopt", "ec_paramgen_curve:P-256"}, "sha256", "sha256")
	token, err := Parse(stamps(a, hash))
	if err != nil {
		t.Fatal(err)
	}
	late := *token
	late.At = token.Ends.Add(time.Hour)
	if err := trusted(a).Trust(&late); err == nil || !strings.Contains(err.Error(), "expired") {
		t.Errorf("after its certificate ended: %v", err)
	}
	plain := *token
	c := *token.signer
	c.ExtKeyUsage = append(c.ExtKeyUsage, 1)
	plain.signer = &c
	if err := trusted(a).Trust(&plain); err == nil || !strings.Contains(err.Error(), "not for time stamps alone") {
		t.Errorf("for other things too: %v", err)
	}
	a.Write("q.tsq", "not a query")
	a.Run("ts", "-reply", "-config", "tsa.cnf", "-queryfile", "q.tsq", "-out", "no.tsr")
	if _, err := Parse(a.Read("no.tsr")); err == nil || !strings.Contains(err.Error(), "the authority refused it with status 2") {
		t.Errorf("a refusal: %v", err)
	}
	if _, err := ParseAuthorities([]byte("none")); err == nil {
		t.Error("no certificate is one")
	}
}
