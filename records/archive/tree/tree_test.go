package tree

import (
	"bytes"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"handback/records/chain"
)

// The leaves and roots are those of the reference tree of RFC 6962 as the public logs of
// certificates test with it (eight leaves and their roots, from memory; the outside
// tests work drawn trees out by the text of the RFC).
func TestHeadOf_reference(t *testing.T) {
	leaves := []string{"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f"}
	roots := []string{
		"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
		"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
		"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
		"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
		"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
		"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
		"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
		"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
	}
	k := &kept{TB: t}
	for i, text := range leaves {
		leaf, err := hex.DecodeString(text)
		if err != nil {
			t.Fatal(err)
		}
		_, hashes, err := Grow(int64(i), leaf, k)
		if err != nil {
			t.Fatal(err)
		}
		k.hashes = append(k.hashes, hashes...)
		h, err := HeadOf(testOrigin, int64(i)+1, k)
		if got := hex.EncodeToString(h.Root[:]); err != nil || got != roots[i] {
			t.Errorf("%d leaves: root %s, want %s (%v)", i+1, got, roots[i], err)
		}
	}
}

// A leaf is these bytes for ever: whoever hashes them again must get the same.
func TestLeaf_bytes(t *testing.T) {
	want := `{"bag":"` + hashText("bag3") + `","entries":43,"head":"` + hashText("head3") + `","job":"` + hashText("job3") +
		`","list":"` + hashText("list3") + `","removed":"` + hashText("removed3") + `","taken":"2026-03-01T06:30:03Z","v":1}`
	if got := string(testLeaf(t, 3)); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	l, err := ParseLeaf([]byte(want))
	if err != nil || l.Entries != 43 || !l.Taken.Equal(time.Date(2026, 3, 1, 6, 30, 3, 0, time.UTC)) || l.Removed != hashText("removed3") {
		t.Errorf("read as %+v: %v", l, err)
	}
}

func TestParseLeaf_refused(t *testing.T) {
	good := string(testLeaf(t, 0))
	for name, swap := range map[string][2]string{
		"no object":      {good, "[]"},
		"blank":          {",", ", "},
		"another member": {`"v":1`, `"v":1,"w":2`},
		"member missing": {`"entries":40,`, ""},
		"fraction":       {"06:30:00Z", "06:30:00.5Z"},
		"other zone":     {"06:30:00Z", "07:30:00+01:00"},
		"no entries":     {`"entries":40`, `"entries":0`},
		"no hash":        {hashText("bag0"), hashText("bag0")[1:]},
		"capitals":       {hashText("bag0"), strings.ToUpper(hashText("bag0"))},
		"removed empty":  {`"taken"`, `"removed":"","taken"`},
		"year":           {"2026-", "0001-"},
	} {
		bad := strings.Replace(good, swap[0], swap[1], 1)
		if _, err := ParseLeaf([]byte(bad)); bad == good || err == nil {
			t.Errorf("%s: accepted: %s", name, bad)
		}
	}
	if _, err := ParseLeaf([]byte(strings.Replace(good, `"v":1`, `"v":2`, 1))); !errors.Is(err, chain.ErrNewer) {
		t.Errorf("version 2: %v", err)
	}
}

// Each size of a log proves each of its leaves and continues each size before it; with
// any hash of a proof changed, left out or put in, it proves neither.
func TestProof_everySize(t *testing.T) {
	size := 33
	if testing.Short() {
		size = 9
	}
	g := grow(t, size)
	key := g.key.PublicKey()
	proofs := 0
	held := func(p Proof, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		proofs++
		for i := range p.Path {
			forged := p
			forged.Path = slices.Clone(p.Path)
			forged.Path[i][i%tlog.HashSize] ^= 1
			refuses(t, forged, "changed")
			forged.Path = slices.Delete(slices.Clone(p.Path), i, i+1)
			refuses(t, forged, "shorter")
			forged.Path = slices.Insert(slices.Clone(p.Path), i, tlog.Hash{})
			refuses(t, forged, "longer")
		}
	}
	for n := 1; n <= size; n++ {
		head := g.head(n)
		for i := range n {
			held(ProveLeaf(head, key, int64(i)+1, g.leaves[i], g))
			held(ProveSince(head, g.head(i+1), key, g))
		}
	}
	if proofs != size*(size+1) {
		t.Errorf("%d proofs", proofs)
	}
}

func refuses(t *testing.T, p Proof, how string) {
	t.Helper()
	if _, err := p.Check(testKey(t, 1).PublicKey()); !errors.Is(err, ErrNotProved) {
		t.Errorf("%s: %+v: %v", how, p, err)
	}
}

// A log from which a leaf was dropped, or in which one was changed, moved or put in, has no proof to give.
func TestProveSince_anotherPast(t *testing.T) {
	whole := grow(t, 21)
	key := whole.key.PublicKey()
	old := whole.head(13)
	for name, leaves := range map[string][][]byte{
		"dropped": slices.Delete(slices.Clone(whole.leaves), 5, 6),
		"changed": slices.Replace(slices.Clone(whole.leaves), 5, 6, testLeaf(t, 99)),
		"moved":   append(slices.Delete(slices.Clone(whole.leaves), 5, 6), whole.leaves[5]),
		"put in":  slices.Insert(slices.Clone(whole.leaves), 5, testLeaf(t, 99)),
		"shorter": whole.leaves[:12],
	} {
		other := &grown{kept: &kept{TB: t}, key: whole.key}
		for _, l := range leaves {
			other.add(l)
		}
		head := other.head(len(leaves))
		if _, err := ProveSince(head, old, key, other); !errors.Is(err, ErrNotProved) {
			t.Errorf("%s: %v", name, err)
		}
		if name == "shorter" {
			continue
		}
		if _, err := ProveLeaf(head, key, 6, whole.leaves[5], other); !errors.Is(err, ErrNotProved) {
			t.Errorf("%s: leaf 6: %v", name, err)
		}
	}
}

// A proof with any one byte changed, taken out or put in is none.
func TestProof_everyByte(t *testing.T) {
	g := grow(t, 7)
	key := g.key.PublicKey()
	leaf, err := ProveLeaf(g.head(7), key, 4, g.leaves[3], g)
	if err != nil {
		t.Fatal(err)
	}
	since, err := ProveSince(g.head(7), g.head(3), key, g)
	if err != nil {
		t.Fatal(err)
	}
	bits := []byte{1, 2, 4, 32, 128}
	if testing.Short() {
		bits = bits[:1]
	}
	for name, p := range map[string]Proof{"leaf": leaf, "since": since} {
		data, err := p.Encode()
		if err != nil {
			t.Fatal(err)
		}
		accepts := func(data []byte) bool {
			p, err := ParseProof(data)
			if err == nil {
				_, err = p.Check(key)
			}
			return err == nil
		}
		if !accepts(data) {
			t.Fatalf("%s is refused: %s", name, data)
		}
		for i := range data {
			for _, bit := range bits {
				bad := bytes.Clone(data)
				if bad[i] ^= bit; accepts(bad) {
					t.Errorf("%s: byte %d from %q to %q is accepted", name, i, data[i], bad[i])
				}
			}
			if accepts(slices.Delete(bytes.Clone(data), i, i+1)) {
				t.Errorf("%s: accepted without byte %d", name, i)
			}
			if accepts(slices.Insert(bytes.Clone(data), i, ' ')) {
				t.Errorf("%s: accepted with a blank before byte %d", name, i)
			}
		}
	}
}

func TestProof_otherKeyOrLog(t *testing.T) {
	g := grow(t, 5)
	p, err := ProveSince(g.head(5), g.head(2), g.key.PublicKey(), g)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.Check(testKey(t, 2).PublicKey()); err == nil || !strings.Contains(err.Error(), "did not sign") {
		t.Errorf("another key: %v", err)
	}
	h, err := HeadOf("another/archive", 2, g)
	if err != nil {
		t.Fatal(err)
	}
	if p.Old, err = h.Sign(g.key); err != nil {
		t.Fatal(err)
	}
	refuses(t, p, "another log")
}

// A head may be signed by witnesses too: what they say is left aside.
func TestOpenHead_witness(t *testing.T) {
	g := grow(t, 3)
	witness := base64.StdEncoding.EncodeToString(make([]byte, 68))
	if _, err := OpenHead(g.head(3)+"— witness.example "+witness+"\n", g.key.PublicKey()); err != nil {
		t.Error(err)
	}
}

func TestOpenHead_refused(t *testing.T) {
	g := grow(t, 3)
	good := g.head(3)
	if _, err := OpenHead(good, g.key.PublicKey()); err != nil {
		t.Fatal(err)
	}
	for name, bad := range map[string]string{
		"empty":       "",
		"no text":     good[strings.Index(good, "\n\n"):],
		"no sig":      good[:strings.Index(good, "\n\n")+2],
		"more lines":  strings.Replace(good, "\n\n", "\nmore\n\n", 1),
		"size +3":     strings.Replace(good, "\n3\n", "\n+3\n", 1),
		"size 03":     strings.Replace(good, "\n3\n", "\n03\n", 1),
		"size 0":      strings.Replace(good, "\n3\n", "\n0\n", 1),
		"size beyond": strings.Replace(good, "\n3\n", "\n9223372036854775807\n", 1),
		"paragraph":   strings.Replace(good, "\n\n", "\n\nmore\n\n", 1),
		"cut off":     good[:len(good)-1],
		"long":        good + strings.Repeat("— witness.example "+base64.StdEncoding.EncodeToString(make([]byte, 68))+"\n", 700),
	} {
		if _, err := OpenHead(bad, g.key.PublicKey()); err == nil {
			t.Errorf("%s: accepted: %.200q", name, bad)
		}
	}
}

func TestValidOrigin(t *testing.T) {
	for _, bad := range []string{"", "two words", "a+b", "a\nb", "größe", strings.Repeat("a", 201)} {
		if ValidOrigin(bad) == nil {
			t.Errorf("%.20q is accepted", bad)
		}
	}
	if err := ValidOrigin(testOrigin); err != nil {
		t.Error(err)
	}
}

// Adding to a log of a million leaves reads and writes no more hashes than its height.
func TestGrow_few(t *testing.T) {
	const size = 1<<20 - 1
	read := 0
	at, hashes, err := Grow(size, testLeaf(t, 0), tlog.HashReaderFunc(func(places []int64) ([]tlog.Hash, error) {
		read += len(places)
		return make([]tlog.Hash, len(places)), nil
	}))
	if err != nil || read != 20 || len(hashes) != 21 || at != tlog.StoredHashCount(size) {
		t.Errorf("%d read, %d written at %d: %v", read, len(hashes), at, err)
	}
	if _, _, err := Grow(-1, nil, nil); err == nil {
		t.Error("a log of -1 leaves grows")
	}
}
