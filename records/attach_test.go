package records

import (
	"bytes"
	"errors"
	"os"
	"strings"
	"testing"
)

// The file and its entry are there together, or neither is.
func TestAttach(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 1).Job
	added, err := b.Append(ctx, job, 2, attached("Panel meter (1).txt", testFile), attached("again.txt", testFile))
	if err != nil {
		t.Fatal(err)
	}
	a, err := ReadAttached(added[0])
	if err != nil {
		t.Fatal(err)
	}
	// printf 'an invented photograph\n' | sha256sum
	same(t, Attached{"Panel_meter_1_.txt", "074686e50105534329c8fa0b966dd7c759013dca4fea52e9d2bfb04e319acb64", 23, TypeText, "panel meter before closing", false, ""}, a)
	got, err := b.File(ctx, a.SHA256)
	if err != nil || !bytes.Equal(got, testFile) {
		t.Errorf("got %q, %v", got, err)
	}
	if _, err := b.File(ctx, HashFile([]byte("other"))); !errors.Is(err, ErrNoFile) {
		t.Errorf("got %v, want ErrNoFile", err)
	}
	verified(t, b)
	var lines int
	if err := b.db.QueryRow("SELECT count(*) FROM attachments").Scan(&lines); err != nil || lines != 1 {
		t.Errorf("one file attached twice is kept %d times, %v", lines, err)
	}
}

func TestAttach_refused(t *testing.T) {
	data := func(change func(*Attached)) Draft {
		d := attached("a.txt", testFile)
		a := d.Data.(Attached)
		change(&a)
		d.Data = a
		return d
	}
	none := attached("a.txt", testFile)
	none.File = nil
	large := bytes.Repeat([]byte{'x'}, MaxFile+1)
	stray := measured(1)
	stray.File = testFile
	for name, c := range map[string]struct {
		draft Draft
		want  string
	}{
		"no file":        {none, "file of 0 bytes"},
		"too large":      {attached("a.txt", large), "file of 20971521 bytes: 1 to 20971520 (20 MiB) are kept"},
		"other kind":     {stray, "a file goes with kind attach alone"},
		"other content":  {data(func(a *Attached) { a.SHA256 = HashFile([]byte("x")) }), "it names text/plain"},
		"other length":   {data(func(a *Attached) { a.Bytes++ }), "it names text/plain"},
		"other type":     {data(func(a *Attached) { a.Type = TypePDF }), "it names application/pdf"},
		"name":           {data(func(a *Attached) { a.Name = "../a.txt" }), `"a.txt" is what would be kept`},
		"hash":           {data(func(a *Attached) { a.SHA256 = "x" }), "64 lower-case hex digits"},
		"no caption":     {data(func(a *Attached) { a.Caption = "" }), "caption is empty"},
		"document":       {data(func(a *Attached) { a.Document = "picture" }), `document "picture" is not one of workbook, page`},
		"control signs":  {data(func(a *Attached) { a.Caption = "a\nb" }), "control character"},
		"unknown member": {Draft{At: dawn, By: "Ada", Kind: KindAttach, Data: map[string]string{"x": "y"}, File: testFile}, "x: unknown"},
	} {
		b := makeBook(t)
		job := makeJob(t, b, 1).Job
		if _, err := b.Append(ctx, job, 2, measured(2), c.draft); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
		if es, err := b.Entries(ctx, job); err != nil || len(es) != 2 {
			t.Errorf("%s: %d entries, %v: something was kept", name, len(es), err)
		}
		verified(t, b)
	}
}

func TestCleanName(t *testing.T) {
	long := strings.Repeat("a", 100)
	for in, want := range map[string]string{
		"photo.jpg": "photo.jpg", "/tmp/x/photo 1.jpg": "photo_1.jpg", `C:\fotos\Zähler.png`: "Z_hler.png", "../../etc/passwd": "passwd",
		"..": "file", "": "file", "a/": "file", ".hidden": "hidden", "-rf": "rf", "a\x00b%0A.txt": "a_b_0A.txt", "写真": "file", "a..": "a",
		long + ".jpeg": strings.Repeat("a", 75) + ".jpeg", long: strings.Repeat("a", 80), "a." + long: "a." + strings.Repeat("a", 78), "__": "file",
	} {
		got := CleanName(in)
		if got != want {
			t.Errorf("%q: got %q, want %q", in, got, want)
		}
		if CleanName(got) != got {
			t.Errorf("%q: cleaning %q again gives %q", in, got, CleanName(got))
		}
	}
}

// First bytes as in WHATWG MIME Sniffing, section 6.
func TestMediaType(t *testing.T) {
	for in, want := range map[string]string{
		"\xff\xd8\xff\xe0": TypeJPEG, "\x89PNG\r\n\x1a\nrest": TypePNG, "%PDF-1.7\n\xff": TypePDF, "plain text\r\n\tä\f": TypeText,
		"": TypeOther, "\xff\xfe": TypeOther, "a\x00b": TypeOther, "MZ\x90\x00": TypeOther, "a\x1b[2J": TypeOther, "a\u0085b": TypeOther, " %PDF-": TypeText, "\xff\xd8": TypeOther,
	} {
		if got := MediaType([]byte(in)); got != want {
			t.Errorf("%q: got %s, want %s", in, got, want)
		}
	}
}

// Somebody with full rights changes the attachments and puts the triggers back.
func TestVerify_attachments(t *testing.T) {
	hash := HashFile(testFile)
	for _, c := range []struct {
		name, statements string
		want             []Fault
	}{
		{"nothing", "SELECT 1", nil},
		{"changed", "UPDATE attachments SET body = x'00'", []Fault{{"pump-1", 3, "attachment " + hash + " a.txt does not match its hash"}}},
		{"removed", "DELETE FROM attachments", []Fault{{"pump-1", 3, "its attachment a.txt, " + hash + ", is not in the book"}}},
		{"orphan", "INSERT INTO attachments (hash, body) VALUES ('" + HashFile([]byte("x")) + "', x'78')", []Fault{{"", 0, "is named by no entry"}}},
		{"false orphan", "INSERT INTO attachments (hash, body) VALUES (printf('%064d', 1), x'00')",
			[]Fault{{"", 0, "does not match its hash"}, {"", 0, "is named by no entry"}}},
		{"another name", "UPDATE attachments SET hash = printf('%064d', 1)",
			[]Fault{{"pump-1", 3, "is not in the book"}, {"", 0, "does not match its hash"}, {"", 0, "is named by no entry"}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := makeBook(t)
			job := makeJob(t, b, 1).Job
			if _, err := b.Append(ctx, job, 2, attached("a.txt", testFile)); err != nil {
				t.Fatal(err)
			}
			b.Close()
			db := raw(t, b.Path())
			mustExec(t, db, dropGuards)
			mustExec(t, db, c.statements)
			mustExec(t, db, restoreGuards())
			db.Close()
			expectFaults(t, b.Path(), c.want)
			r, err := OpenRead(ctx, b.Path())
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			got, err := r.File(ctx, hash)
			if err == nil && !bytes.Equal(got, testFile) {
				t.Errorf("File gives %q", got)
			}
		})
	}
}

// A book of the first schema that can only be read stays as it is, and tells so
// plainly that it has no attachments.
func TestAttach_oldBook(t *testing.T) {
	image, err := os.ReadFile("../testdata/books/v1.db")
	if err != nil {
		t.Fatal(err)
	}
	path := t.TempDir() + "/book.db"
	if err := os.WriteFile(path, image, 0o600); err != nil {
		t.Fatal(err)
	}
	r, err := OpenRead(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.File(ctx, HashFile(testFile)); !errors.Is(err, ErrNoFile) {
		t.Errorf("got %v, want ErrNoFile", err)
	}
	r.Close()
	after, err := os.ReadFile(path)
	if err != nil || !bytes.Equal(after, image) {
		t.Errorf("reading changed the file, %v", err)
	}
}
