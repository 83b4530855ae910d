package bag

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"

	"handback/records/chain"
)

// bagAt tells a folder from an archive.
func bagAt(path string) (bagSource, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, err
	}
	if info.IsDir() {
		root, err := os.OpenRoot(path)
		if err != nil {
			return nil, err
		}
		return folderSource{root}, nil
	}
	if !info.Mode().IsRegular() {
		return nil, fmt.Errorf("%s: %w: it is neither a folder nor a plain file", path, ErrNotBag)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	z, err := newZipSource(f, info.Size())
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	z.file = f
	return z, nil
}

// folderSource is a bag that lies in a folder. os.Root follows no link out of it.
type folderSource struct{ root *os.Root }

func (s folderSource) Close() error { return s.root.Close() }

func (s folderSource) container() []string { return nil }

func (s folderSource) open(name string) (io.ReadCloser, error) { return s.root.Open(name) }

func (s folderSource) list() (map[string]int64, []string, error) {
	sizes, faults := map[string]int64{}, chain.Faults{}
	seen := 0
	err := fs.WalkDir(s.root.FS(), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || name == "." {
			return err
		}
		if seen++; seen > MaxBagFiles {
			faults.Add(fmt.Sprintf("it holds more than %d files and folders", MaxBagFiles))
			return fs.SkipAll
		}
		if err := validBagName(name); err != nil {
			faults.Add(err.Error())
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		switch {
		case d.IsDir():
			return nil
		case d.Type()&fs.ModeSymlink != 0:
			faults.Add(name + " is a link; only plain files are read")
		case !d.Type().IsRegular():
			faults.Add(name + " is no plain file")
		default:
			info, err := d.Info()
			if err != nil {
				return err
			}
			sizes[name] = info.Size()
		}
		return nil
	})
	return sizes, faults.List(), err
}

// maxArchive bounds the archive itself; its list of names is read as a whole.
const maxArchive = MaxBagBytes + 64<<20

// maxNames bounds what is read of an archive to learn its names, 4 MiB: enough for
// any bag, and too little for a list made to fill the memory.
const maxNames = 4 << 20

// budgetReader stops once so many bytes were read; with left -1 it reads on.
type budgetReader struct {
	from io.ReaderAt
	left int64
}

func (r *budgetReader) ReadAt(p []byte, at int64) (int, error) {
	if r.left >= 0 {
		if r.left -= int64(len(p)); r.left < 0 {
			r.left = 0
			return 0, fmt.Errorf("its list of names is longer than %d bytes", maxNames)
		}
	}
	return r.from.ReadAt(p, at)
}

// zipSource is a bag in a zip archive, read where it lies.
type zipSource struct {
	at    io.ReaderAt
	size  int64
	file  io.Closer // nil when there is none to close
	files []*zip.File
	named map[string]*zip.File
}

// zipBegins is how a zip archive with a file in it begins.
const zipBegins = "PK\x03\x04"

// newZipSource reads the list of names of an archive.
func newZipSource(r io.ReaderAt, size int64) (*zipSource, error) {
	if size > maxArchive {
		return nil, fmt.Errorf("the archive has %d bytes, at most %d are read", size, int64(maxArchive))
	}
	budget := &budgetReader{from: r, left: maxNames}
	z, err := zip.NewReader(budget, size)
	begin := make([]byte, len(zipBegins))
	if n, _ := r.ReadAt(begin, 0); errors.Is(err, zip.ErrFormat) && string(begin[:n]) == zipBegins {
		return nil, fmt.Errorf("%w: %w", ErrCut, err)
	}
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) { // such paths are named by list
		return nil, fmt.Errorf("%w: it is neither a folder nor a zip archive that can be read: %w", ErrNotBag, err)
	}
	budget.left = -1
	return &zipSource{at: r, size: size, files: z.File, named: map[string]*zip.File{}}, nil
}

func (s *zipSource) Close() error {
	if s.file == nil {
		return nil
	}
	return s.file.Close()
}

func (s *zipSource) open(name string) (io.ReadCloser, error) {
	f, ok := s.named[name]
	if !ok {
		return nil, fs.ErrNotExist
	}
	return f.Open()
}

func (s *zipSource) list() (map[string]int64, []string, error) {
	sizes, faults := map[string]int64{}, chain.Faults{}
	if len(s.files) > MaxBagFiles {
		return sizes, []string{fmt.Sprintf("it holds %d files and folders, at most %d are read", len(s.files), MaxBagFiles)}, nil
	}
	top := ""
	seen := map[string]bool{}
	for _, f := range s.files {
		if err := zipEntry(f); err != nil {
			faults.Add(err.Error())
			continue
		}
		name, isFolder := strings.CutSuffix(f.Name, "/")
		folder, inside, ok := strings.Cut(name, "/")
		switch {
		case seen[name]:
			faults.Add(fmt.Sprintf("%s stands twice in the archive", name))
			continue
		case top == "" && (ok || isFolder):
			top = folder
		}
		seen[name] = true
		switch {
		case folder != top || !ok && !isFolder:
			faults.Add(fmt.Sprintf("%s lies beside the one folder that the archive of a bag holds", name))
		case !isFolder:
			sizes[inside] = int64(min(f.UncompressedSize64, maxBagFile+1))
			s.named[inside] = f
		}
	}
	return sizes, faults.List(), nil
}

// zipEntry refuses what is no plain file or folder under a name that is accepted.
func zipEntry(f *zip.File) error {
	name := strings.TrimSuffix(f.Name, "/")
	if err := validBagName(name); err != nil {
		return err
	}
	mode := f.Mode()
	switch {
	case mode&fs.ModeSymlink != 0:
		return fmt.Errorf("%s is a link; only plain files are read", name)
	case mode&(fs.ModeType&^fs.ModeDir) != 0, mode.IsDir() != strings.HasSuffix(f.Name, "/"):
		return fmt.Errorf("%s is no plain file", name)
	case mode.IsDir() && f.UncompressedSize64 > 0:
		return fmt.Errorf("%s is a folder with content", name)
	case f.Flags&1 != 0:
		return fmt.Errorf("%s is encrypted", name)
	case f.Method != zip.Store && f.Method != zip.Deflate:
		return fmt.Errorf("%s is packed by method %d, which is not read here", name, f.Method)
	case f.Method == zip.Store && f.CompressedSize64 != f.UncompressedSize64:
		return fmt.Errorf("%s says it is stored, and gives two sizes", name)
	}
	return nil
}
