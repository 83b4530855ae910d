package bag

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// Records of a zip archive (APPNOTE.TXT of the format, sections 4.3.7 to 4.3.16):
// their lengths without names, and the words they begin with.
const (
	localLength, localMark         = 30, "PK\x03\x04"
	centralLength, centralMark     = 46, "PK\x01\x02"
	endLength, endMark             = 22, "PK\x05\x06"
	descriptorLength, descriptMark = 16, "PK\x07\x08"
)

const (
	flagDescriptor = 1 << 3 // CRC and lengths stand behind the content
	flagsAccepted  = flagDescriptor | 1<<1 | 1<<2 | 1<<11
)

// container holds the archive against its own list of files, byte for byte: it is
// the files one behind another, the list, its end, and nothing else. A reader that
// goes by the list and one that goes from file to file then see the same bag. It
// names the first thing that is not so.
//
// What another program packs is accepted where it keeps to that; only a signed or
// compressed archive, one in parts, or one of more than 4 GiB does not.
func (s *zipSource) container() []string {
	if err := s.walk(); err != nil {
		return []string{"the archive: " + err.Error()}
	}
	return nil
}

func (s *zipSource) walk() error {
	list, at, err := s.centralList()
	if err != nil {
		return err
	}
	next := int64(0)
	for _, e := range list {
		if e.local != next {
			return fmt.Errorf("at byte %d a file should begin, %.120q does at byte %d: bytes that belong to no file, or to two, are not accepted", next, e.name(), e.local)
		}
		if next, err = s.extent(e); err != nil {
			return fmt.Errorf("%.120q: %w", e.name(), err)
		}
	}
	if next != at {
		return fmt.Errorf("its last file ends at byte %d, its list of files begins at byte %d: bytes between are not accepted", next, at)
	}
	return nil
}

// centralEntry is one file in the list of an archive.
type centralEntry struct {
	raw   []byte // fixed part, name, extra fields
	local int64  // where the file begins
}

func (e centralEntry) name() []byte  { return e.raw[centralLength : centralLength+le16(e.raw[28:])] }
func (e centralEntry) extra() []byte { return e.raw[centralLength+le16(e.raw[28:]):] }
func (e centralEntry) packed() int64 { return int64(binary.LittleEndian.Uint32(e.raw[20:])) }
func le16(b []byte) int              { return int(binary.LittleEndian.Uint16(b)) }

// centralList reads the list of files, in the order in which they lie, and where it
// begins. It ends where the archive does.
func (s *zipSource) centralList() (list []centralEntry, at int64, err error) {
	end := make([]byte, endLength)
	if _, err := s.at.ReadAt(end, s.size-endLength); err != nil || string(end[:4]) != endMark || le16(end[20:]) != 0 {
		return nil, 0, errors.New("it does not end with the end of its list of files: bytes behind it, or a comment, are not accepted")
	}
	length, at := int64(binary.LittleEndian.Uint32(end[12:])), int64(binary.LittleEndian.Uint32(end[16:]))
	if le16(end[4:]) != 0 || le16(end[6:]) != 0 || le16(end[8:]) != le16(end[10:]) || at+length != s.size-endLength || length > maxNames {
		return nil, 0, fmt.Errorf("its list of files is said to be bytes %d to %d of %d before its end: bytes before the archive, or an archive in parts, are not accepted", at, at+length, s.size-endLength)
	}
	raw := make([]byte, length)
	if _, err := s.at.ReadAt(raw, at); err != nil {
		return nil, 0, err
	}
	for len(raw) > 0 {
		if len(raw) < centralLength || string(raw[:4]) != centralMark {
			return nil, 0, errors.New("its list of files holds what is no file")
		}
		n := centralLength + le16(raw[28:]) + le16(raw[30:])
		switch {
		case len(raw) < n:
			return nil, 0, errors.New("its list of files is cut off")
		case le16(raw[32:]) != 0:
			return nil, 0, fmt.Errorf("%.120q carries a comment, which is not accepted", raw[centralLength:n])
		case le16(raw[34:]) != 0:
			return nil, 0, errors.New("it is one of several parts")
		}
		list = append(list, centralEntry{raw[:n:n], int64(binary.LittleEndian.Uint32(raw[42:]))})
		raw = raw[n:]
	}
	if len(list) != le16(end[10:]) {
		return nil, 0, fmt.Errorf("it lists %d files and says it holds %d", len(list), le16(end[10:]))
	}
	slices.SortStableFunc(list, func(a, b centralEntry) int { return int(a.local - b.local) })
	return list, at, nil
}

// extent holds a file where it lies against the list, and gives where it ends.
func (s *zipSource) extent(e centralEntry) (int64, error) {
	head := make([]byte, localLength)
	if _, err := s.at.ReadAt(head, e.local); err != nil || string(head[:4]) != localMark {
		return 0, errors.New("no file begins where the list says that it does")
	}
	rest := make([]byte, le16(head[26:])+le16(head[28:]))
	if _, err := s.at.ReadAt(rest, e.local+localLength); err != nil {
		return 0, errors.New("it is cut off")
	}
	name, extra := rest[:le16(head[26:])], rest[le16(head[26:]):]
	flags := le16(head[6:])
	end := e.local + localLength + int64(len(rest)) + e.packed()
	sums := head[14:26] // CRC, length as packed, length
	switch {
	case !bytes.Equal(name, e.name()):
		return 0, fmt.Errorf("where it lies it is called %.120q", name)
	case flags&^flagsAccepted != 0:
		return 0, fmt.Errorf("it is marked %#04x, which is not read here", flags)
	case !bytes.Equal(head[4:14], e.raw[6:16]): // version, marks, method, time
		return 0, errors.New("where it lies it says another version, packing or time than in the list")
	}
	for _, fields := range [][]byte{extra, e.extra()} {
		if err := knownExtra(fields); err != nil {
			return 0, err
		}
	}
	if flags&flagDescriptor != 0 && !bytes.Equal(sums, e.raw[16:28]) {
		behind := make([]byte, descriptorLength)
		if _, err := s.at.ReadAt(behind, end); err != nil || !bytes.Equal(sums, make([]byte, 12)) {
			return 0, errors.New("its lengths where it lies are not those of the list")
		}
		if sums = behind[:12]; string(behind[:4]) == descriptMark {
			sums, end = behind[4:], end+4
		}
		end += 12
	}
	if !bytes.Equal(sums, e.raw[16:28]) {
		return 0, errors.New("its lengths or CRC where it lies are not those of the list")
	}
	return end, nil
}

// knownExtra accepts the fields by which packers keep times and owners, or mark their
// own. Others can give a file a second name or size.
func knownExtra(fields []byte) error {
	for len(fields) > 0 {
		if len(fields) < 4 || len(fields) < 4+le16(fields[2:]) {
			return errors.New("its extra fields are cut off")
		}
		if id := le16(fields); !slices.Contains([]int{0x000a, 0x5455, 0x5855, 0x7855, 0x7875, 0xcafe}, id) {
			return fmt.Errorf("it carries the extra field %#04x, which is not read here", id)
		}
		fields = fields[4+le16(fields[2:]):]
	}
	return nil
}

// Repacked says that a bag is an archive, and not byte for byte the one that this
// program makes of its files: somebody unpacked it and packed it again, or what
// stands beside the files was changed.
func (b *Bag) Repacked() bool {
	s, ok := b.source.(*zipSource)
	if !ok || len(b.Refused) > 0 {
		return false
	}
	if len(s.files) != len(b.sizes) { // it has entries for folders
		return true
	}
	top, _, _ := strings.Cut(s.files[0].Name, "/") // OpenBag found a file
	is := &sameWriter{at: s.at, size: s.size}
	sink := NewZipSink(is, top)
	for _, name := range b.packingOrder() {
		err := sink.copy(s.named[name], name)
		if err != nil {
			return true
		}
	}
	return sink.Close() != nil || is.next != s.size
}

// packingOrder is the order in which WriteBag gives the files.
func (b *Bag) packingOrder() []string {
	rank := func(name string) int {
		switch {
		case strings.HasPrefix(name, BagPayload):
			return 0
		case name == tagManifest(digests[0].name):
			return 2
		case name == tagManifest(digests[1].name):
			return 3
		}
		return 1
	}
	names := b.Names()
	slices.SortStableFunc(names, func(a, b string) int { return rank(a) - rank(b) })
	return names
}

// copy adds a file as it lies in another archive.
func (z *ZipSink) copy(f *zip.File, name string) error {
	w, err := z.begin(name, f.CRC32, f.UncompressedSize64)
	if err != nil {
		return err
	}
	r, err := f.OpenRaw()
	if err == nil {
		_, err = io.Copy(w, r)
	}
	return err
}

// sameWriter compares what is written to it with what stands there.
type sameWriter struct {
	at         io.ReaderAt
	next, size int64
	buffer     []byte
}

func (w *sameWriter) Write(p []byte) (int, error) {
	if int64(len(p)) > w.size-w.next {
		return 0, errors.New("longer")
	}
	w.buffer = slices.Grow(w.buffer[:0], len(p))[:len(p)]
	if _, err := w.at.ReadAt(w.buffer, w.next); err != nil {
		return 0, err
	}
	if !bytes.Equal(p, w.buffer) {
		return 0, errors.New("another")
	}
	w.next += int64(len(p))
	return len(p), nil
}
