package cmd

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"unicode/utf16"

	"handback/cmd/session"
)

// maxInput bounds a plan, a trial, answers, a list of keys: files that people write.
const maxInput = 4 << 20

// tooLong is a file that is not read because of its size.
type tooLong struct {
	size  int64 // 0 when it is known only to be more than the limit
	limit int64
}

func (e tooLong) Error() string {
	if e.size == 0 {
		return fmt.Sprintf("it has more than %d bytes, which is as much as is read", e.limit)
	}
	return fmt.Sprintf("it has %d bytes, at most %d are read", e.size, e.limit)
}

// readInput reads a file of at most limit bytes that people write, or stdin where its
// name is "-". Errors name it.
func readInput(env *session.Env, file string, limit int64) ([]byte, error) {
	if file == "-" {
		data, err := readUpTo(env.In, limit)
		if err != nil {
			return nil, fmt.Errorf("stdin: %w", err)
		}
		return data, nil
	}
	data, err := readFile(file, limit)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return data, nil
}

// readText is readInput of text, in UTF-8.
func readText(env *session.Env, file string, limit int64) ([]byte, error) {
	data, err := readInput(env, file, limit)
	return inUTF8(data), err
}

// inUTF8 is text without the mark of its byte order that editors put first, and out of the
// UTF-16 that the older shells of Windows write (Unicode 15.0, 23.8). What has no such mark
// is left as it is.
func inUTF8(text []byte) []byte {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(text, []byte("\xef\xbb\xbf")):
		return text[3:]
	case bytes.HasPrefix(text, []byte("\xff\xfe")):
		order = binary.LittleEndian
	case bytes.HasPrefix(text, []byte("\xfe\xff")):
		order = binary.BigEndian
	default:
		return text
	}
	var units []uint16
	for rest := text[2:]; len(rest) > 1; rest = rest[2:] {
		units = append(units, order.Uint16(rest))
	}
	return []byte(string(utf16.Decode(units)))
}

// inputName is what a file that people name is called in a record.
func inputName(file string) string {
	if file == "-" {
		return "stdin"
	}
	return file
}

// readFile reads a plain file, or what a pipe gives, of at most limit bytes. Every
// file from outside that is read whole comes through here.
func readFile(file string, limit int64) ([]byte, error) {
	return readOpened(file, limit, fs.ModeNamedPipe)
}

// readPlain is readFile of a plain file alone.
func readPlain(file string, limit int64) ([]byte, error) { return readOpened(file, limit, 0) }

func readOpened(file string, limit int64, besides fs.FileMode) ([]byte, error) {
	var data []byte
	err := withOpened(file, limit, besides, func(f *os.File) (err error) {
		data, err = readUpTo(f, limit)
		return err
	})
	return data, err
}

// copyPlain copies a plain file of at most limit bytes that is too large to be read whole.
func copyPlain(to io.Writer, file string, limit int64) error {
	return withOpened(file, limit, 0, func(f *os.File) error {
		n, err := io.Copy(to, io.LimitReader(f, limit+1))
		if err == nil && n > limit {
			err = tooLong{0, limit}
		}
		return err
	})
}

func withOpened(file string, limit int64, besides fs.FileMode, read func(*os.File) error) error {
	info, err := os.Stat(file) // before it is opened: opening a device or a pipe may do something, or wait
	if err == nil {
		err = plainFile(info, limit, besides)
	}
	if err != nil {
		return aboutFile(file, err)
	}
	f, err := os.Open(file)
	if err != nil {
		return aboutFile(file, err)
	}
	defer f.Close()
	if info, err = f.Stat(); err == nil { // another may lie there now
		err = plainFile(info, limit, besides)
	}
	if err == nil {
		err = read(f)
	}
	return plainPathError(err)
}

// aboutFile is why a file could not be opened, which whoever asked for it puts behind its name.
func aboutFile(file string, err error) error {
	return session.Apart(plainPathError(err), session.Parts{Where: "file", Met: file})
}

// plainFile refuses what is no plain file of at most limit bytes, nor of a sort that besides names.
func plainFile(info fs.FileInfo, limit int64, besides fs.FileMode) error {
	switch {
	case info.IsDir():
		return errors.New("it is a folder, not a plain file")
	case info.Mode().Type()&^besides != 0:
		return errors.New("it is not a plain file")
	case info.Mode().IsRegular() && info.Size() > limit:
		return tooLong{info.Size(), limit}
	}
	return nil
}

func readUpTo(r io.Reader, limit int64) ([]byte, error) {
	data, err := io.ReadAll(io.LimitReader(r, limit+1))
	if err == nil && int64(len(data)) > limit {
		err = tooLong{0, limit}
	}
	if err != nil {
		return nil, err
	}
	return data, nil
}

// plainPathError drops the path that an error message repeats.
func plainPathError(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	return err
}
