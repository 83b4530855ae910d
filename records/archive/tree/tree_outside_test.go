package tree

import (
	"encoding/base64"
	"encoding/json"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"handback/testdata/outside"
)

// judged is what testdata/check.py, written by the text of RFC 9162 in another language, says of each proof.
func judged(t *testing.T, proofs []Proof) []bool {
	t.Helper()
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import json")
	data, err := json.Marshal(proofs)
	file := filepath.Join(t.TempDir(), "proofs.json")
	if err == nil {
		err = os.WriteFile(file, data, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
	said, err := exec.Command(python, "testdata/check.py", file).CombinedOutput()
	lines := strings.Fields(string(said))
	if err != nil || len(lines) != len(proofs) {
		t.Fatalf("%d answers for %d proofs: %v: %s", len(lines), len(proofs), err, said[max(0, len(said)-2000):])
	}
	var out []bool
	for _, l := range lines {
		out = append(out, l == "yes")
	}
	return out
}

// drawn are proofs of drawn logs, and of each some that are forged.
func drawn(t *testing.T, draw *rand.Rand, logs int) (good, forged []Proof) {
	t.Helper()
	for range logs {
		g := grow(t, 1+draw.IntN(70))
		size := len(g.leaves)
		head, key := g.head(size), g.key.PublicKey()
		for range 4 {
			at := draw.IntN(size)
			leaf, err := ProveLeaf(head, key, int64(at)+1, g.leaves[at], g)
			if err != nil {
				t.Fatal(err)
			}
			since, err := ProveSince(head, g.head(at+1), key, g)
			if err != nil {
				t.Fatal(err)
			}
			good = append(good, leaf, since)
			forged = append(forged, forgeries(leaf)...)
			forged = append(forged, forgeries(since)...)
		}
	}
	return good, forged
}

// forgeries change each byte of each hash of a proof, each sign of its leaf, its place and
// the sizes and roots of its heads.
func forgeries(p Proof) (out []Proof) {
	forge := func(f func(*Proof)) {
		q := p
		q.Path = slices.Clone(p.Path)
		f(&q)
		out = append(out, q)
	}
	for i := range p.Path {
		for b := range tlog.HashSize {
			forge(func(q *Proof) { q.Path[i][b] ^= 1 << (b % 8) })
		}
		forge(func(q *Proof) { q.Path = slices.Delete(q.Path, i, i+1) })
		forge(func(q *Proof) { q.Path = slices.Insert(q.Path, i, q.Path[i]) })
	}
	for i := range p.Leaf {
		forge(func(q *Proof) { q.Leaf = p.Leaf[:i] + string(p.Leaf[i]^1) + p.Leaf[i+1:] })
	}
	forge(func(q *Proof) { q.Head = anotherRoot(p.Head) })
	if p.Old == "" {
		forge(func(q *Proof) { q.Number++ })
		forge(func(q *Proof) { q.Number-- })
	} else {
		forge(func(q *Proof) { q.Old = anotherRoot(p.Old) })
	}
	return out
}

func anotherRoot(signed string) string {
	lines := strings.Split(signed, "\n")
	root, err := base64.StdEncoding.DecodeString(lines[2])
	if err != nil {
		panic(err)
	}
	root[0] ^= 1
	lines[2] = base64.StdEncoding.EncodeToString(root)
	return strings.Join(lines, "\n")
}

func TestProof_python(t *testing.T) {
	draw := rand.New(rand.NewPCG(6962, 9162))
	logs := 5
	if testing.Short() {
		logs = 1
	}
	good, forged := drawn(t, draw, logs)
	for i, yes := range judged(t, good) {
		if !yes {
			t.Errorf("refused there: %+v", good[i])
		}
	}
	key := testKey(t, 1).PublicKey()
	for i, yes := range judged(t, forged) {
		if yes {
			t.Errorf("accepted there: %+v", forged[i])
		}
		if _, err := forged[i].Check(key); err == nil {
			t.Errorf("accepted here: %+v", forged[i])
		}
	}
	t.Logf("%d proofs, %d forged", len(good), len(forged))
	if len(forged) < 500*logs {
		t.Errorf("%d forged proofs", len(forged))
	}
}

// A head is checked with openssl alone: three lines, and the last 64 bytes of its signature.
func TestHead_openssl(t *testing.T) {
	g := grow(t, 9)
	signed, dir := g.head(9), t.TempDir()
	text, line, _ := strings.Cut(signed, "\n\n")
	sig, err := base64.StdEncoding.DecodeString(strings.Fields(line)[2])
	if err != nil {
		t.Fatal(err)
	}
	// RFC 8410: the key of OpenSSH behind the twelve bytes that name Ed25519.
	wire := g.key.PublicKey().Marshal()
	der := append([]byte{0x30, 0x2a, 0x30, 0x05, 0x06, 0x03, 0x2b, 0x65, 0x70, 0x03, 0x21, 0x00}, wire[len(wire)-32:]...)
	for name, content := range map[string][]byte{"key.der": der, "sig": sig[len(sig)-64:], "good": []byte(text + "\n"), "bad": []byte(strings.Replace(text, "\n9\n", "\n8\n", 1) + "\n")} {
		if err := os.WriteFile(filepath.Join(dir, name), content, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	openssl := outside.Tool(t, "openssl", "version")
	for _, name := range []string{"good", "bad"} {
		c := exec.Command(openssl, "pkeyutl", "-verify", "-pubin", "-keyform", "DER", "-inkey", "key.der", "-rawin", "-in", name, "-sigfile", "sig")
		c.Dir = dir
		if out, err := c.CombinedOutput(); (err == nil) != (name == "good") {
			t.Errorf("%s: %v: %s", name, err, out)
		}
	}
}

// The file of a key and the line of the project's other keys do: a program that follows
// logs reads the head with the key as it knows it.
func TestVerifierKey(t *testing.T) {
	g := grow(t, 2)
	line, err := VerifierKey(testOrigin, g.key.PublicKey())
	if err != nil {
		t.Fatal(err)
	}
	v, err := note.NewVerifier(line)
	if err != nil {
		t.Fatal(err)
	}
	n, err := note.Open([]byte(g.head(2)), note.VerifierList(v))
	if err != nil || !strings.HasPrefix(n.Text, testOrigin+"\n2\n") {
		t.Errorf("%+v: %v", n, err)
	}
}
