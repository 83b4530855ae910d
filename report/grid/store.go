package grid

import (
	"io"
	"os"
)

// Rows of a book are kept as bytes until they are written, and so are parts that are packed
// already: as long as they are few in memory, then in one file that has no name any more
// where the system allows that. What a book takes does not grow with its rows, and nothing
// in it is looked through for pointers.
type store struct {
	file *os.File // nil as long as all is in memory
	name string   // of the file, "" where it has none any more
	end  int64
	held int // bytes in memory
	full bool
	err  error // of the first read that failed
}

// Sizes of a store: mostHeld was chosen so that the book of a usual job needs no file.
const (
	mostHeld  = 8 << 20
	chunkSize = 32 << 10
)

// keep writes bytes behind what is in the file; ok is false where they stay in memory,
// because there is room or the disk has none.
func (s *store) keep(data []byte) (at int64, ok bool) {
	if s.held+len(data) <= mostHeld || s.full {
		s.held += len(data)
		return 0, false
	}
	if s.file == nil {
		f, err := os.CreateTemp("", "handback-rows-")
		if err != nil {
			s.full = true
			return 0, false
		}
		if s.file = f; os.Remove(f.Name()) != nil { // some systems do that to no open file
			s.name = f.Name()
		}
	}
	if _, err := s.file.WriteAt(data, s.end); err != nil {
		s.full = true
		return 0, false
	}
	s.end += int64(len(data))
	return s.end - int64(len(data)), true
}

// close gives the disk its room back.
func (s *store) close() {
	if s.file != nil {
		s.file.Close()
	}
	if s.name != "" {
		os.Remove(s.name)
	}
}

// pile is a row of records in a store.
type pile struct {
	in     *store
	chunks []chunk
	open   []byte // what comes next, as a chunk too
	recent [8]struct {
		no   int // counted from 1
		data []byte
	}
	next int // of recent, to be replaced
}

// chunk is some records, in memory or in the file.
type chunk struct {
	data []byte
	at   int64
	size int
}

// place is where a record of a pile begins, 0 for none.
type place int64

// put adds a record, which must not be empty.
func (p *pile) put(record []byte) place {
	if len(p.open)+len(record) > chunkSize && len(p.open) > 0 {
		p.seal()
	}
	at := place(len(p.chunks)+1)<<32 | place(len(p.open))
	p.open = append(p.open, record...)
	return at
}

// seal ends the chunk that is open.
func (p *pile) seal() {
	c := chunk{size: len(p.open)}
	at, kept := p.in.keep(p.open)
	if kept {
		c.at, p.open = at, p.open[:0]
	} else {
		c.data, p.open = p.open, nil
	}
	p.chunks = append(p.chunks, c)
}

// Write adds bytes as a record.
func (p *pile) Write(data []byte) (int, error) {
	if len(data) > 0 {
		p.put(data)
	}
	return len(data), nil
}

// from are the bytes from the start of a record on, to the end of its chunk. They are not
// to be changed, and hold until the next record is put.
func (p *pile) from(at place) []byte {
	no, offset := int(at>>32), int(at&(1<<32-1))
	return p.chunk(no)[offset:]
}

// chunk are the bytes of a chunk, counted from 1.
func (p *pile) chunk(no int) []byte {
	if no > len(p.chunks) {
		return p.open
	}
	c := p.chunks[no-1]
	if c.data != nil {
		return c.data
	}
	for _, r := range p.recent {
		if r.no == no {
			return r.data
		}
	}
	data := make([]byte, c.size)
	if _, err := p.in.file.ReadAt(data, c.at); err != nil && p.in.err == nil {
		p.in.err = err
	}
	p.recent[p.next].no, p.recent[p.next].data = no, data
	p.next = (p.next + 1) % len(p.recent)
	return data
}

// each goes through all chunks.
func (p *pile) each(do func(data []byte) error) error {
	for no := range len(p.chunks) + 1 {
		data := p.chunk(no + 1)
		if p.in.err != nil {
			return p.in.err
		}
		if err := do(data); err != nil {
			return err
		}
	}
	return nil
}

// WriteTo writes all records one behind the other.
func (p *pile) WriteTo(w io.Writer) (n int64, err error) {
	err = p.each(func(data []byte) error {
		k, err := w.Write(data)
		n += int64(k)
		return err
	})
	return n, err
}
