package chain

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/ed25519"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/rsa"
	"encoding/pem"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/hiddeco/sshsig"
	"golang.org/x/crypto/ssh"
)

// seedKey is an Ed25519 key that is the same in every run.
func seedKey(t testing.TB, n byte) ssh.Signer {
	t.Helper()
	k, err := ssh.NewSignerFromKey(ed25519.NewKeyFromSeed(seedKey32(n)))
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func seedKey32(n byte) []byte { return bytes.Repeat([]byte{n}, ed25519.SeedSize) }

func signed(t testing.TB, message string, key ssh.Signer) string {
	t.Helper()
	armoured, err := SignStatement([]byte(message), key)
	if err != nil {
		t.Fatal(err)
	}
	return armoured
}

// armour is a signature with everything about it chosen.
func armour(t testing.TB, message, namespace string, key ssh.Signer) string {
	t.Helper()
	s, err := sshsig.Sign(strings.NewReader(message), key, sshsig.HashSHA256, namespace)
	if err != nil {
		t.Fatal(err)
	}
	return string(sshsig.Armor(s))
}

func TestSignStatement_deterministic(t *testing.T) {
	if a, b := signed(t, "x", seedKey(t, 1)), signed(t, "x", seedKey(t, 1)); a != b {
		t.Errorf("two signatures of the same bytes with the same Ed25519 key:\n%s%s", a, b)
	}
	if a, b := signed(t, "x", seedKey(t, 1)), signed(t, "y", seedKey(t, 1)); a == b {
		t.Error("one signature for two statements")
	}
}

func TestCheckSignature_faults(t *testing.T) {
	key := seedKey(t, 1)
	good := signed(t, "statement", key)
	if by, err := CheckSignature([]byte("statement"), good); err != nil || KeyLine(by) != KeyLine(key.PublicKey()) {
		t.Fatalf("%v, %v", by, err)
	}
	weak, err := rsa.GenerateKey(rand.Reader, 1024)
	if err != nil {
		t.Fatal(err)
	}
	weakKey, err := ssh.NewSignerFromKey(weak)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := SignStatement([]byte("statement"), weakKey); err == nil || !strings.Contains(err.Error(), "1024 bits does not sign here") {
		t.Errorf("an RSA key of 1024 bits: %v", err)
	}
	other, _ := pem.Decode([]byte(good))
	other.Type = "SSH PRIVATE"
	headed, _ := pem.Decode([]byte(good))
	headed.Headers = map[string]string{"Comment": "x"}
	for name, c := range map[string]struct{ statement, armoured, want string }{
		"changed byte": {"Statement", good, "does not fit the statement: key SHA256:"},
		"more":         {"statement\n", good, "does not fit the statement"},
		"namespace":    {"statement", armour(t, "statement", "file", key), `made for namespace "file", not for handback-statement`},
		"weak":         {"statement", armour(t, "statement", StatementNamespace, weakKey), "1024 bits does not sign here"},
		"empty":        {"statement", "", "cannot be read"},
		"before":       {"statement", "x\n" + good, "cannot be read"},
		"after":        {"statement", good + "x", "cannot be read"},
		"two":          {"statement", good + good, "cannot be read"},
		"other block":  {"statement", string(pem.EncodeToMemory(other)), "cannot be read"},
		"headers":      {"statement", string(pem.EncodeToMemory(headed)), "cannot be read"},
		"too long":     {"statement", good + strings.Repeat("\n", maxSignature), "at most"},
	} {
		if by, err := CheckSignature([]byte(c.statement), c.armoured); by != nil || err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, %v; want an error with %q", name, by, err, c.want)
		}
	}
}

// No byte of a signature can be changed, and it cannot be cut at any length.
func TestCheckSignature_everyByte(t *testing.T) {
	block, _ := pem.Decode([]byte(signed(t, "statement", seedKey(t, 1))))
	rearmour := func(b []byte) string { return string(pem.EncodeToMemory(&pem.Block{Type: block.Type, Bytes: b})) }
	if _, err := CheckSignature([]byte("statement"), rearmour(block.Bytes)); err != nil {
		t.Fatal(err)
	}
	for i := range block.Bytes {
		changed := bytes.Clone(block.Bytes)
		changed[i] ^= 0x41
		if _, err := CheckSignature([]byte("statement"), rearmour(changed)); err == nil {
			t.Errorf("byte %d changed, and it is accepted", i)
		}
		if _, err := CheckSignature([]byte("statement"), rearmour(block.Bytes[:i])); err == nil {
			t.Errorf("the first %d bytes are accepted", i)
		}
	}
	if _, err := CheckSignature([]byte("statement"), rearmour(append(block.Bytes, 0))); err == nil {
		t.Error("a byte too many is accepted")
	}
}

func TestParseKey(t *testing.T) {
	line := KeyLine(seedKey(t, 1).PublicKey())
	key, comment, err := ParseKey(" " + line + "  mira on the  laptop ")
	if err != nil || KeyLine(key) != line || comment != "mira on the laptop" {
		t.Errorf("%v %q %v", key, comment, err)
	}
	for _, bad := range []string{"", "ssh-ed25519", line[:len(line)-6], strings.Replace(line, "ssh-ed25519", "ssh-rsa", 1), "no-pty " + line, "x y"} {
		if _, _, err := ParseKey(bad); err == nil {
			t.Errorf("%q is read as a key", bad)
		}
	}
}

func TestSigners_allow(t *testing.T) {
	key, stranger := KeyLine(seedKey(t, 1).PublicKey()), seedKey(t, 2).PublicKey()
	zone := time.FixedZone("", 3600)
	at := func(text string) time.Time {
		when, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return when
	}
	noon := at("2026-05-12T12:00:00+01:00")
	for _, c := range []struct {
		name, line string
		person     string
		at         time.Time
		want       string // of the refusal, "" when allowed
	}{
		{"plain", "eva " + key, "eva", noon, ""},
		{"comment", "eva " + key + " Eva on the laptop", "eva", noon, ""},
		{"blanks", "\teva \t " + key + "\r", "eva", noon, ""},
		{"other person", "eva " + key, "ada", noon, "is not listed for ada"},
		{"list", "ben,eva " + key, "eva", noon, ""},
		{"quoted", `"ben,eva" ` + key, "eva", noon, ""},
		{"pattern", "e*a " + key, "eva", noon, ""},
		{"any one", "e?a " + key, "eva", noon, ""},
		{"too few", "e?va " + key, "eva", noon, "not listed for eva"},
		{"all but", "*,!eva " + key, "eva", noon, "not listed for eva"},
		{"all but, other", "*,!eva " + key, "ada", noon, ""},
		{"namespace", `eva namespaces="handback-statement" ` + key, "eva", noon, ""},
		{"namespaces", `eva namespaces="file,handback-*" ` + key, "eva", noon, ""},
		{"other namespace", `eva namespaces="file" ` + key, "eva", noon, "but not for namespace handback-statement"},
		{"from", `eva valid-after="20260512" ` + key, "eva", noon, ""},
		{"from the second", `eva valid-after="20260512120000" ` + key, "eva", noon, ""},
		{"from later", `eva valid-after="202605121201" ` + key, "eva", noon, "only from 2026-05-12T12:01:00+01:00 on"},
		{"from, UTC", `eva valid-after="202605121130Z" ` + key, "eva", noon, "only from 2026-05-12T11:30:00Z on"},
		{"until", `eva valid-before="202605121200" ` + key, "eva", noon, ""},
		{"until earlier", `eva valid-before="20260512115959" ` + key, "eva", noon, "only until 2026-05-12T11:59:59+01:00"},
		{"both and space", `eva NAMESPACES="handback-statement",valid-after="2026010100",valid-before="20270101" ` + key, "eva", noon, "parse"},
		{"both", `eva NAMESPACES="handback-statement",valid-after="202601010000",valid-before="20270101" ` + key, "eva", noon, ""},
	} {
		list, err := ParseSigners([]byte("# a comment\n\n"+c.line+"\n"), zone)
		if c.want == "parse" {
			if err == nil {
				t.Errorf("%s: it is read", c.name)
			}
			continue
		}
		if err != nil || len(list) != 1 {
			t.Errorf("%s: %d lines, %v", c.name, len(list), err)
			continue
		}
		err = list.Allow(c.person, list[0].Key, c.at)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
		if err := list.Allow(c.person, stranger, c.at); err == nil {
			t.Errorf("%s: another key is allowed", c.name)
		}
	}
	if err := (Signers{}).Allow("eva", stranger, noon); err == nil {
		t.Error("no line allows a key")
	}
}

func TestParseSigners_refused(t *testing.T) {
	key := KeyLine(seedKey(t, 1).PublicKey())
	for name, c := range map[string]struct{ line, want string }{
		"authority":      {"eva cert-authority " + key, "line 2: cert-authority is not read"},
		"authority more": {`eva namespaces="file",cert-authority ` + key, "cert-authority is not read"},
		"no key":         {"eva", "a public key is missing"},
		"option alone":   {`eva namespaces="file"`, "a public key is missing"},
		"cut key":        {"eva " + key[:len(key)-5], "the ssh-ed25519 key cannot be read"},
		"unknown":        {"eva no-touch-required " + key, `option "no-touch-required" is not known`},
		"twice":          {`eva namespaces="a",namespaces="b" ` + key, "namespaces stands twice"},
		"no value":       {"eva valid-after " + key, "a value in quotation marks is wanted"},
		"bare value":     {"eva valid-after=20260101 " + key, "a value in quotation marks is wanted"},
		"open quote":     {`eva namespaces="a ` + key, "not closed"},
		"open people":    {`"eva ` + key, "not closed"},
		"glued people":   {`"eva"x ` + key, "a blank is wanted"},
		"no people":      {`"" ` + key, "people is empty"},
		"no namespace":   {`eva namespaces="" ` + key, "namespaces: is empty"},
		"time":           {`eva valid-after="2026-01-01" ` + key, "is no time"},
		"no such day":    {`eva valid-before="20260230" ` + key, "is no time"},
		"upside down":    {`eva valid-after="20260102",valid-before="20260101" ` + key, "not later"},
		"glued options":  {`eva namespaces="a"valid-after="20260101" ` + key, "a comma and another option"},
		"comma":          {`eva namespaces="a", ` + key, "a comma and another option"},
		"control":        {"e\x1bva " + key, "U+001B"},
	} {
		list, err := ParseSigners([]byte("ada "+key+"\n"+c.line), time.UTC)
		if list != nil || err == nil || !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), "line 2: ") {
			t.Errorf("%s: %v, %v; want line 2 and %q", name, list, err, c.want)
		}
	}
	if _, err := ParseSigners(bytes.Repeat([]byte("\n"), maxSigners+1), time.UTC); err == nil {
		t.Error("a file beyond all size is read")
	}
}

// What is read is written so that it reads the same.
func FuzzParseSigners(f *testing.F) {
	key := KeyLine(seedKey(f, 1).PublicKey())
	for _, s := range []string{"eva " + key, `"a b,c" namespaces="x\"y",valid-after="20260101Z",valid-before="20270101" ` + key + " z", "# x\n\neva,* " + key, `a\"b ` + key, "eva cert-authority " + key} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		list, err := ParseSigners(b, time.FixedZone("", 5400))
		if err != nil {
			if list != nil {
				t.Fatalf("%q: a list beside %v", b, err)
			}
			return
		}
		var text strings.Builder
		for _, s := range list {
			fmt.Fprintln(&text, s)
		}
		again, err := ParseSigners([]byte(text.String()), time.UTC)
		same := cmp.Comparer(func(a, b Signer) bool {
			return a.People == b.People && a.Namespaces == b.Namespaces && a.After.Equal(b.After) && a.Before.Equal(b.Before) && KeyLine(a.Key) == KeyLine(b.Key)
		})
		if err != nil || !cmp.Equal(list, again, same) {
			t.Fatalf("%q is written as %q, which reads %v, %v", b, text.String(), again, err)
		}
	})
}

// madeKeys are keys of every sort that signs.
func madeKeys(t testing.TB) map[string]ssh.Signer {
	t.Helper()
	out := map[string]ssh.Signer{"ed25519": seedKey(t, 7)}
	long, err := rsa.GenerateKey(rand.Reader, 3072)
	if err != nil {
		t.Fatal(err)
	}
	raw := map[string]any{"rsa": long}
	for name, curve := range map[string]elliptic.Curve{"ecdsa-256": elliptic.P256(), "ecdsa-384": elliptic.P384(), "ecdsa-521": elliptic.P521()} {
		if raw[name], err = ecdsa.GenerateKey(curve, rand.Reader); err != nil {
			t.Fatal(err)
		}
	}
	for name, k := range raw {
		if out[name], err = ssh.NewSignerFromKey(k); err != nil {
			t.Fatal(err)
		}
	}
	return out
}
