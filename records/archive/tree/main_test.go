package tree

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"testing"
	"time"

	"golang.org/x/crypto/ssh"
	"golang.org/x/mod/sumdb/tlog"

	"handback/testdata/outside"
)

func TestMain(m *testing.M) { os.Exit(outside.Suite{M: m}.Run()) }

const testOrigin = "invented.pumping.station/archive"

// testKey is an Ed25519 key made of a seed that is no secret.
func testKey(t testing.TB, seed byte) ssh.Signer {
	t.Helper()
	bytes := make([]byte, ed25519.SeedSize)
	bytes[0] = seed
	key, err := ssh.NewSignerFromKey(ed25519.NewKeyFromSeed(bytes))
	if err != nil {
		t.Fatal(err)
	}
	return key
}

// kept keeps hashes in memory. It is the caller's fault to ask for one that is not there
// yet, or to put one where another belongs.
type kept struct {
	testing.TB
	hashes []tlog.Hash
}

func (k *kept) ReadHashes(places []int64) ([]tlog.Hash, error) {
	var out []tlog.Hash
	for _, p := range places {
		out = append(out, k.hashes[p])
	}
	return out, nil
}

// grown is a log with its leaves, grown one by one.
type grown struct {
	*kept
	key    ssh.Signer
	leaves [][]byte
}

func grow(t testing.TB, size int) *grown {
	t.Helper()
	g := &grown{kept: &kept{TB: t}, key: testKey(t, 1)}
	for i := range size {
		g.add(testLeaf(t, i))
	}
	return g
}

func (g *grown) add(leaf []byte) {
	g.Helper()
	at, hashes, err := Grow(int64(len(g.leaves)), leaf, g)
	if err != nil || at != int64(len(g.hashes)) {
		g.Fatalf("leaf %d: at %d behind %d hashes: %v", len(g.leaves)+1, at, len(g.hashes), err)
	}
	g.hashes, g.leaves = append(g.hashes, hashes...), append(g.leaves, leaf)
}

func (g *grown) head(size int) string {
	g.Helper()
	h, err := HeadOf(testOrigin, int64(size), g)
	var signed string
	if err == nil {
		signed, err = h.Sign(g.key)
	}
	if err != nil {
		g.Fatal(err)
	}
	return signed
}

func hashText(text string) string {
	h := sha256.Sum256([]byte(text))
	return hex.EncodeToString(h[:])
}

func testLeaf(t testing.TB, i int) []byte {
	t.Helper()
	l := Leaf{Job: hashText(fmt.Sprint("job", i)), Entries: 40 + i, Head: hashText(fmt.Sprint("head", i)), Bag: hashText(fmt.Sprint("bag", i)), List: hashText(fmt.Sprint("list", i)),
		Taken: time.Date(2026, 3, 1, 6, 30, i, 0, time.UTC)}
	if i%7 == 3 {
		l.Removed = hashText(fmt.Sprint("removed", i))
	}
	data, err := l.Encode()
	if err != nil {
		t.Fatal(err)
	}
	return data
}
