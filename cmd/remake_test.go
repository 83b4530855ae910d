package cmd

import (
	"bytes"
	"crypto/sha256"
	"crypto/sha512"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/rogpeppe/go-internal/testscript"
)

// remake FOLDER: make the manifests of a bag anew, as anybody could who changed it.
func remake(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: remake FOLDER")
	}
	dir := ts.MkAbs(args[0])
	hashes := map[string]func([]byte) string{
		"sha256": func(b []byte) string { return fmt.Sprintf("%x", sha256.Sum256(b)) },
		"sha512": func(b []byte) string { return fmt.Sprintf("%x", sha512.Sum512(b)) },
	}
	for _, tags := range []bool{false, true} { // those of the tag files hash the others
		for name, hash := range hashes {
			var list bytes.Buffer
			ts.Check(filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
				if err != nil || d.IsDir() {
					return err
				}
				rel, err := filepath.Rel(dir, path)
				rel = filepath.ToSlash(rel)
				if err != nil || strings.HasPrefix(rel, "data/") == tags || strings.HasPrefix(rel, "tagmanifest-") {
					return err
				}
				content, err := os.ReadFile(path)
				fmt.Fprintf(&list, "%s  %s\n", hash(content), rel)
				return err
			}))
			file := map[bool]string{false: "manifest-", true: "tagmanifest-"}[tags] + name + ".txt"
			ts.Check(os.WriteFile(filepath.Join(dir, file), list.Bytes(), 0o644))
		}
	}
}
