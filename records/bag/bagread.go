package bag

import (
	"bufio"
	"bytes"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"maps"
	"slices"
	"strconv"
	"strings"

	"handback/records/chain"
)

// ErrNotBag says that a folder or file is no bag at all.
var ErrNotBag = errors.New("not a bag")

// ErrCut says that an archive begins as one and cannot be read as one.
var ErrCut = errors.New("the archive was cut off or changed on its way; ask for it again")

// Bag is a bag that somebody handed over: a folder, or a zip archive of one. Nothing
// in it is unpacked, run or written to. Close it.
type Bag struct {
	Path    string
	Refused []string // why it was not read further than its list of names; nil when it was

	source bagSource
	sizes  map[string]int64 // of every file
}

// bagSource is where the files of a bag are.
type bagSource interface {
	// list gives every file with its size; what is no plain file with a name that
	// is accepted is named in faults.
	list() (sizes map[string]int64, faults []string, err error)
	// container names what is wrong with the archive the files lie in, nil for a folder.
	container() []string
	open(name string) (io.ReadCloser, error)
	Close() error
}

// OpenBag looks at the names and sizes in a bag. When one of them is refused nothing
// in it is read, and Refused names each.
//
// Errors: ErrNotBag; ErrCut; what the system says.
func OpenBag(path string) (*Bag, error) {
	source, err := bagAt(path)
	if err != nil {
		return nil, err
	}
	b := &Bag{Path: path, source: source}
	if b.sizes, b.Refused, err = source.list(); err != nil {
		source.Close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if len(b.Refused) == 0 {
		b.Refused = b.bounds()
	}
	if _, ok := b.sizes[Declaration]; !ok && len(b.Refused) == 0 {
		source.Close()
		return nil, fmt.Errorf("%s: %w: it holds no %s", path, ErrNotBag, Declaration)
	}
	return b, nil
}

// Close lets go of the file or folder.
func (b *Bag) Close() error { return b.source.Close() }

// Names lists the files, sorted.
func (b *Bag) Names() []string { return slices.Sorted(maps.Keys(b.sizes)) }

// Size is how long a file says it is, 0 for one that is not there.
func (b *Bag) Size(name string) int64 { return b.sizes[name] }

// bounds refuses what some systems would take for one file, and what is too much to
// read, before any of it is read.
func (b *Bag) bounds() []string {
	var faults chain.Faults
	found := func(what string, args ...any) { faults.Add(fmt.Sprintf(what, args...)) }
	var total int64
	taken := map[string]string{}
	for _, name := range b.Names() {
		size := b.sizes[name]
		if other, ok := taken[strings.ToLower(name)]; ok {
			found("%s and %s differ in case alone", other, name)
		}
		taken[strings.ToLower(name)] = name
		if limit := bagLimit(name); size < 0 || size > limit {
			found("%s would have %d bytes; at most %d are read", name, uint64(size), limit)
		}
		total += min(max(size, 0), maxBagFile+1)
	}
	for _, name := range b.Names() {
		for i := range name {
			if _, isFile := b.sizes[name[:i]]; name[i] == '/' && isFile {
				found("%s is a file, and %s lies in it", name[:i], name)
			}
		}
	}
	if total > MaxBagBytes {
		found("its files would have more than %d bytes together, which is as much as is read", int64(MaxBagBytes))
	}
	return faults.List()
}

// Bounds of one file of a bag. What is no payload is lists of its files and words.
const (
	maxBagFile = 256 << 20
	maxTagFile = 4 << 20
)

func bagLimit(name string) int64 {
	if strings.HasPrefix(name, BagPayload) {
		return maxBagFile
	}
	return maxTagFile
}

// Read gives the content of a file.
//
// Errors: fs.ErrNotExist; a file that is not as long as it says or was packed wrongly.
func (b *Bag) Read(name string) ([]byte, error) {
	if _, ok := b.sizes[name]; !ok || len(b.Refused) > 0 {
		return nil, fmt.Errorf("%s: %w", name, fs.ErrNotExist)
	}
	var content bytes.Buffer
	content.Grow(int(min(b.sizes[name], 1<<20)) + bytes.MinRead) // its size is a claim: it grows as bytes come
	err := b.copy(name, content.ReadFrom)
	return content.Bytes(), err
}

// Lines hands the lines of a file to take, one after another and without their line
// feeds, until it says no. Never more than one line is in memory.
//
// Errors: those of Read; a line of more than limit bytes, or one that the end of the
// file cuts off, with its number.
func (b *Bag) Lines(name string, limit int, take func(n int, line []byte) bool) error {
	if _, ok := b.sizes[name]; !ok || len(b.Refused) > 0 {
		return fmt.Errorf("%s: %w", name, fs.ErrNotExist)
	}
	err := b.copy(name, func(from io.Reader) (int64, error) {
		r := bufio.NewReaderSize(from, limit+1)
		var read int64
		for n := 1; ; n++ {
			line, err := r.ReadSlice('\n')
			read += int64(len(line))
			switch {
			case errors.Is(err, io.EOF) && len(line) == 0:
				return read, nil
			case errors.Is(err, io.EOF):
				return read, fmt.Errorf("line %d does not end with a line feed: the file was cut off", n)
			case errors.Is(err, bufio.ErrBufferFull):
				return read, fmt.Errorf("line %d has more than %d bytes, which is as much as is read", n, limit)
			case err != nil:
				return read, err
			case !take(n, line[:len(line)-1]):
				return read, errEnough
			}
		}
	})
	if errors.Is(err, errEnough) {
		return nil
	}
	return err
}

// errEnough ends a reading that was told to stop.
var errEnough = errors.New("not read further")

// copy hands a file to take, never more of it than its size says and one byte.
func (b *Bag) copy(name string, take func(io.Reader) (int64, error)) error {
	r, err := b.source.open(name)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	defer r.Close()
	n, err := take(io.LimitReader(r, b.sizes[name]+1))
	switch {
	case n > b.sizes[name]:
		return fmt.Errorf("%s: it holds more than the %d bytes it says", name, b.sizes[name])
	case err != nil:
		return fmt.Errorf("%s: it cannot be read: %w", name, err)
	case n < b.sizes[name]:
		return fmt.Errorf("%s: it holds %d bytes, not the %d it says", name, n, b.sizes[name])
	}
	return nil
}

// Check holds every file against the manifests and the manifests against the files,
// and names every fault: declaration, counts, hashes, files that are listed and not
// there, or there and not listed.
func (b *Bag) Check() []string {
	if len(b.Refused) > 0 {
		return b.Refused
	}
	c := bagCheck{bag: b}
	for _, f := range b.source.container() {
		c.found("%s", f)
	}
	c.declared()
	hashed := map[string]map[string]string{} // file → digest → hash
	for _, name := range b.Names() {
		hashed[name] = c.hash(name)
	}
	for _, d := range digests {
		c.hold(payloadManifest(d.name), d.size, d.name, hashed, func(name string) bool { return strings.HasPrefix(name, BagPayload) })
		c.hold(tagManifest(d.name), d.size, d.name, hashed, func(name string) bool {
			return !strings.HasPrefix(name, BagPayload) && !strings.HasPrefix(name, "tagmanifest-")
		})
	}
	c.counts()
	return c.faults.List()
}

type bagCheck struct {
	bag    *Bag
	faults chain.Faults
}

func (c *bagCheck) found(what string, args ...any) { c.faults.Add(fmt.Sprintf(what, args...)) }

func (c *bagCheck) declared() {
	if text, err := c.bag.Read(Declaration); err != nil {
		c.found("%v", err)
	} else if string(text) != declaration {
		c.found("%s: it does not declare BagIt 1.0 in UTF-8 as a bag of handback does", Declaration)
	}
	for _, name := range c.bag.Names() {
		if strings.Contains(name, "/") && !strings.HasPrefix(name, BagPayload) {
			c.found("%s: a bag of handback has no folder but data", name)
		}
		if name == "fetch.txt" {
			c.found("%s: a bag of handback is whole, nothing is fetched from elsewhere", name)
		}
		list, ok := strings.CutPrefix(strings.TrimPrefix(name, "tag"), "manifest-")
		known := slices.ContainsFunc(digests, func(d struct {
			name string
			size int
			make func() hash.Hash
		}) bool {
			return list == d.name+".txt"
		})
		if ok && !known {
			c.found("%s: a manifest of this kind is not read here", name)
		}
	}
}

// hash gives the hashes of one file, nil when it cannot be read.
func (c *bagCheck) hash(name string) map[string]string {
	hashes := make([]hash.Hash, len(digests))
	writers := make([]io.Writer, len(digests))
	for i, d := range digests {
		hashes[i] = d.make()
		writers[i] = hashes[i]
	}
	if err := c.bag.copy(name, func(r io.Reader) (int64, error) { return io.Copy(io.MultiWriter(writers...), r) }); err != nil {
		c.found("%v", err)
		return nil
	}
	out := map[string]string{}
	for i, d := range digests {
		out[d.name] = hex.EncodeToString(hashes[i].Sum(nil))
	}
	return out
}

// hold compares one manifest with the files it should list.
func (c *bagCheck) hold(list string, size int, digest string, hashed map[string]map[string]string, covers func(string) bool) {
	text, err := c.bag.Read(list)
	if errors.Is(err, fs.ErrNotExist) {
		c.found("%s is missing", list)
		return
	}
	var m manifest
	if err == nil {
		if m, err = parseManifest(text, size); err != nil {
			err = fmt.Errorf("%s: %w", list, err)
		}
	}
	if err != nil {
		c.found("%v", err)
		return
	}
	for _, name := range slices.Sorted(maps.Keys(m)) {
		got, there := hashed[name]
		switch {
		case !covers(name):
			c.found("%s: it lists %s, which does not belong in it", list, name)
		case !there:
			c.found("%s is missing: %s lists it", name, list)
		case got != nil && got[digest] != m[name]:
			c.found("%s was changed: its %s hash is not the one in %s", name, digest, list)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(hashed)) {
		if _, ok := m[name]; !ok && covers(name) {
			c.found("%s is in the bag, but not in %s", name, list)
		}
	}
}

// counts holds what bag-info.txt says of the payload against the payload.
func (c *bagCheck) counts() {
	info, err := c.bag.Info()
	if err != nil {
		c.found("%v", err)
		return
	}
	var bytes int64
	files := 0
	for name, size := range c.bag.sizes {
		if strings.HasPrefix(name, BagPayload) {
			bytes, files = bytes+size, files+1
		}
	}
	if is := fmt.Sprintf("%d.%d", bytes, files); is != info.oxum {
		c.found("%s: Payload-Oxum is %s, the payload has %s (bytes.files)", BagInfoFile, info.oxum, is)
	}
}

// Info reads bag-info.txt, of which only what WriteBag writes is accepted.
func (b *Bag) Info() (BagInfo, error) {
	text, err := b.Read(BagInfoFile)
	if err != nil {
		return BagInfo{}, err
	}
	return parseBagInfo(text)
}

func parseBagInfo(text []byte) (BagInfo, error) {
	var i BagInfo
	var count string
	into := []*string{&i.Program, &i.Date, &i.Organization, &i.Address, &i.Contact, &i.Phone, &i.Email,
		&i.Job, &i.Identifier, &i.Description, &i.Group, &i.oxum, &count, &i.Head}
	n, lines := 0, strings.Split(string(text), "\n")
	for at, l := range i.lines() {
		value, ok := strings.CutPrefix(lines[min(n, len(lines)-1)], l.label+": ")
		switch {
		case ok:
			*into[at] = value
			n++
		case l.need:
			return BagInfo{}, fmt.Errorf("%s: line %d is %.60q, %q is wanted there", BagInfoFile, n+1, lines[min(n, len(lines)-1)], l.label+":")
		}
	}
	i.Entries, _ = strconv.Atoi(count) // what is no number does not come out equal below
	if again, err := i.encode(); err != nil || string(again) != string(text) {
		return BagInfo{}, fmt.Errorf("%s: it is not in the form that a bag of handback has it in", BagInfoFile)
	}
	return i, nil
}
