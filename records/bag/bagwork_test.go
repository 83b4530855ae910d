package bag

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"testing"

	"handback/records/chain"
	"handback/testdata/outside"
)

// allocated is how many bytes f takes from the heap: a measure of work that hangs on
// no clock.
func allocated(f func()) uint64 {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return after.TotalAlloc - before.TotalAlloc
}

// A bag with a million wrong lines costs no more than a small one, and its faults are
// told up to a number.
func TestBag_boundedWork(t *testing.T) {
	line := chain.HashFile(nil) + "  data/x%d\n"
	var many strings.Builder
	for i := range 40_000 {
		fmt.Fprintf(&many, line, 100_000+i)
	}
	for name, c := range map[string]struct {
		change func(pile)
		want   string
	}{
		"manifest of 40,000 lines": {func(p pile) { p["manifest-sha256.txt"] = []byte(many.String()) }, "manifest-sha256.txt: it has more than 10000 lines"},
		"manifest of a million": {func(p pile) {
			p["manifest-sha512.txt"] = bytes.Repeat([]byte(line), 1_000_000)
		}, "manifest-sha512.txt would have"},
		"9,000 files more": {func(p pile) {
			for i := range 9_000 {
				p[fmt.Sprintf("data/x%d", i)] = nil
			}
		}, "and 17901 more"},
		"4,900 files in folders that are files": {func(p pile) {
			for i := range 4_900 {
				p[fmt.Sprintf("data/%d", i)], p[fmt.Sprintf("data/%d/x", i)] = nil, nil
			}
		}, "and 4800 more"},
	} {
		p := testBag(t)
		c.change(p)
		archive := rawZip(t, rawFiles(p)...)
		var faults []string
		spent := allocated(func() { _, faults = checkArchive(archive) })
		if spent > 64<<20 && !outside.Race {
			t.Errorf("%s: %d bytes were allocated", name, spent)
		}
		if len(faults) > chain.MaxFaults+1 || !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: %d faults, %q; want %q", name, len(faults), faults[len(faults)-1], c.want)
		}
	}
}

// endless counts what is read of it.
type endless struct {
	text string
	read int
}

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = e.text[(e.read+i)%len(e.text)]
	}
	e.read += len(p)
	return len(p), nil
}

type oneFile struct{ content io.Reader }

func (s oneFile) list() (map[string]int64, []string, error) { return nil, nil, nil }
func (s oneFile) container() []string                       { return nil }
func (s oneFile) open(string) (io.ReadCloser, error)        { return io.NopCloser(s.content), nil }
func (s oneFile) Close() error                              { return nil }

// Lines reads no further than it is told, and keeps no more than a line.
func TestBag_lines(t *testing.T) {
	const size = 100 << 20
	lines := func(text string, limit, enough int) (seen, read int, err error) {
		from := &endless{text: text}
		b := &Bag{source: oneFile{from}, sizes: map[string]int64{"data/x": size}}
		err = b.Lines("data/x", limit, func(n int, line []byte) bool {
			if n != seen+1 || string(line) != strings.TrimSuffix(text, "\n") {
				t.Errorf("line %d: %q", n, line)
			}
			seen = n
			return n < enough
		})
		return seen, from.read, err
	}
	if seen, read, err := lines("\n", 1000, 100); seen != 100 || read > 2000 || err != nil {
		t.Errorf("%d lines of %d bytes read, %v", seen, read, err)
	}
	if _, read, err := lines("\x00", 1000, 100); read > 2000 || err == nil || !strings.Contains(err.Error(), "line 1 has more than 1000 bytes") {
		t.Errorf("%d bytes read, %v", read, err)
	}
	if seen, _, err := lines(strings.Repeat("x", 999)+"\n", 1000, 1<<30); seen != size/1000 || err == nil || !strings.Contains(err.Error(), "it holds more than") {
		t.Errorf("%d lines, %v", seen, err)
	}
	for text, want := range map[string]string{"a\nb": "line 2 does not end with a line feed", "a\nb\n": ""} {
		b := &Bag{source: oneFile{strings.NewReader(text)}, sizes: map[string]int64{"x": int64(len(text))}}
		if err := b.Lines("x", 10, func(int, []byte) bool { return true }); (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// An archive is its files and their list and nothing else. What is put before,
// behind or between, and what one reader sees otherwise than another, is a fault.
func TestBag_container(t *testing.T) {
	good := testBag(t).zipped(t)
	at := func(mark string, n int) int { // where the n-th such record lies
		i := -1
		for range n {
			i += 1 + bytes.Index(good[i+1:], []byte(mark))
		}
		return i
	}
	changed := func(at int, to string) []byte {
		out := bytes.Clone(good)
		copy(out[at:], to)
		return out
	}
	moved := func(archive []byte, from, by int) []byte { // the list and its end, as they tell where they lie
		end := len(archive) - endLength
		binary.LittleEndian.PutUint32(archive[end+16:], binary.LittleEndian.Uint32(archive[end+16:])+uint32(by))
		list := int(binary.LittleEndian.Uint32(archive[end+16:]))
		for i := list; i < end; i += centralLength + le16(archive[i+28:]) + le16(archive[i+30:]) {
			if was := int(binary.LittleEndian.Uint32(archive[i+42:])); was >= from {
				binary.LittleEndian.PutUint32(archive[i+42:], uint32(was+by))
			}
		}
		return archive
	}
	commented := append(changed(len(good)-2, "\x04\x00"), "text"...)
	for name, c := range map[string]struct {
		archive []byte
		want    string // "" when nothing is wrong
	}{
		"as packed":          {good, ""},
		"packed again":       {rawZip(t, rawFiles(testBag(t))...), ""},
		"script before":      {slices.Concat([]byte("#!/bin/sh\nexit\n"), good), "bytes before the archive"},
		"script taken along": {moved(slices.Concat([]byte("#!/bin/sh\nexit\n"), good), 0, 15), "at byte 0 a file should begin"},
		"archive before":     {slices.Concat(good, good), "bytes before the archive"},
		"data behind":        {slices.Concat(good, make([]byte, 4096)), "it does not end with the end"},
		"comment":            {commented, "it does not end with the end"},
		"gap": {moved(slices.Concat(good[:at(localMark, 3)], []byte("hidden"), good[at(localMark, 3):]), at(localMark, 3), 6),
			"bytes that belong to no file"},
		"gap before the list":     {moved(slices.Concat(good[:at(centralMark, 1)], []byte("hidden"), good[at(centralMark, 1):]), len(good), 6), "bytes between are not accepted"},
		"other name":              {changed(at(localMark, 1)+localLength, "run-me"), `where it lies it is called "run-me`},
		"other length":            {changed(at(localMark, 2)+22, "\x01"), "its lengths or CRC where it lies"},
		"other CRC":               {changed(at(localMark, 2)+14, "\xff\xff"), "its lengths or CRC where it lies"},
		"other time":              {changed(at(localMark, 2)+10, "\xff"), "another version, packing or time"},
		"encrypted where it lies": {changed(at(localMark, 2)+6, "\x01"), "it is marked 0x0001"},
		"two lists":               {changed(len(good)-endLength+8, "\x01"), "its list of files is said to be"},
		"second name": {rawZip(t, rawFiles(testBag(t), rawFile{name: "pump-1/data/x", change: func(h *zip.FileHeader) {
			h.Extra = []byte("\x75\x70\x0b\x00\x01\x00\x00\x00\x00run-me")
		}})...), "the extra field 0x7075"},
		"words in the list": {rawZip(t, rawFiles(testBag(t), rawFile{name: "pump-1/data/x", change: func(h *zip.FileHeader) { h.Comment = "run me" }})...), "carries a comment"},
	} {
		b, faults := checkArchive(c.archive)
		if c.want == "" && len(faults) > 0 || c.want != "" && !slices.ContainsFunc(faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: got %q, want %q", name, faults, c.want)
		}
		if name == "packed again" && !b.Repacked() {
			t.Errorf("%s: it is told to be as it was packed", name)
		}
	}
}

// Every byte of an archive beside the content of its files is looked at too: changing
// one is a fault, or is told.
func TestBag_containerBytes(t *testing.T) {
	p := pile{}
	if err := WriteBag(p, testInfo, testAbout, testPayload.payload()); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	z := NewZipSink(&b, "pump-1")
	if err := WriteBag(z, testInfo, testAbout, testPayload.payload()); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	good := b.Bytes()
	if bag, faults := checkArchive(good); len(faults) > 0 || bag.Repacked() {
		t.Fatalf("as packed: %q", faults)
	}
	told := 0
	for i := range good {
		spoilt := bytes.Clone(good)
		spoilt[i] ^= 1
		bag, faults := checkArchive(spoilt)
		if len(faults) == 0 && !bag.Repacked() {
			t.Errorf("byte %d changed, and nothing is told", i)
		}
		if len(faults) == 0 {
			told++
		}
	}
	if files := len(p); told > 8*files+8 {
		t.Errorf("%d changed bytes are told, but are no faults; in each of %d entries of the list there are eight of modes and makers", told, files)
	}
}
