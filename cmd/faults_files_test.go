package cmd

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"handback/testdata/outside"
)

// A changed byte in any file of a bag is named with the file, and one in an entry with
// the number of the entry; so is a file cut off.
func TestBag_damaged(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	book, job := signedJob(t)
	bag := filepath.Join(filepath.Dir(book), "bag")
	demands(t, exitDone, book, "pack", job, "-o", bag)
	files := treeOf(t, bag)
	const places = 2
	for _, name := range slices.Sorted(maps.Keys(files)) {
		content := files[name]
		path := filepath.Join(bag, filepath.FromSlash(name))
		for i := range places {
			at := len(content) * (2*i + 1) / (2 * places)
			for what, bad := range map[string]string{"changed": content[:at] + string(content[at]^1) + content[at+1:], "cut off": content[:at]} {
				writeText(t, path, bad)
				if text := demands(t, exitIntegrity, book, "verify", bag); !strings.Contains(text, name) {
					t.Errorf("%s is %s at byte %d, and it is not named:\n%s", name, what, at, text)
				}
			}
		}
		writeText(t, path, content)
	}
	const entries = "data/entries.jsonl"
	from := 0
	for i, line := range strings.SplitAfter(strings.TrimSuffix(files[entries], "\n"), "\n") {
		for _, at := range []int{from, from + len(line)/2, from + len(line) - 3} {
			writeText(t, filepath.Join(bag, entries), files[entries][:at]+string(files[entries][at]^1)+files[entries][at+1:])
			text := demands(t, exitIntegrity, book, "verify", bag)
			named := slices.ContainsFunc([]string{"entry %d", "line %d"}, func(f string) bool {
				return strings.Contains(text, fmt.Sprintf(f, i+1)+":") || strings.Contains(text, fmt.Sprintf(f, i+1)+" ")
			})
			if !named && i+1 < strings.Count(files[entries], "\n") {
				t.Errorf("byte %d of entry %d is changed, and it is not named:\n%s", at-from, i+1, text)
			}
		}
		from += len(line)
	}
	writeText(t, filepath.Join(bag, entries), files[entries])
	demands(t, exitDone, book, "verify", bag)
}

func writeText(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

// What a handover workbook says of its record on its certificate is held against the record,
// letter by letter.
func TestWorkbook_headChanged(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	book, job := signedJob(t)
	made, bad := filepath.Join(filepath.Dir(book), "made.xlsx"), filepath.Join(filepath.Dir(book), "bad.xlsx")
	demands(t, exitDone, book, "handover", job, "-o", made)
	demands(t, exitDone, book, "verify", made)
	entries := entriesOf(t, book, job)
	head := entries[len(entries)-1]
	const step = 5
	tried := 0
	for i := 0; i < len(head.Hash); i += step {
		other := byte('0')
		if head.Hash[i] == other {
			other = 'f'
		}
		changeCell(t, made, bad, head.Hash, head.Hash[:i]+string(other)+head.Hash[i+1:])
		if text := demands(t, exitIntegrity, book, "verify", bad); !strings.Contains(text, "(handback_head) holds ") {
			t.Errorf("letter %d of the head hash is changed:\n%s", i+1, text)
		}
		tried++
	}
	if tried == 0 {
		t.Fatal("nothing was tried")
	}
	for _, n := range []int{0, -1, 1, head.Seq - 1, head.Seq + 1, 1 << 40} {
		changeCell(t, made, bad, fmt.Sprint(head.Seq), fmt.Sprint(n))
		if text := demands(t, exitIntegrity, book, "verify", bad); !strings.Contains(text, fmt.Sprintf("(handback_entries) holds %q, the record gives %q", fmt.Sprint(n), fmt.Sprint(head.Seq))) {
			t.Errorf("the number of entries is %d:\n%s", n, text)
		}
	}
	changeCell(t, made, bad, job, job+"1")
	if text := demands(t, exitIntegrity, book, "verify", bad); !strings.Contains(text, `(handback_job) holds "`+job+`1"`) {
		t.Errorf("the job is changed:\n%s", text)
	}
}

// changeCell writes another text into the cell of the certificate that holds one; a number
// is looked for beside its label.
func changeCell(t *testing.T, from, to, was, is string) {
	t.Helper()
	f, err := excelize.OpenFile(from)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("Certificate")
	if err != nil {
		t.Fatal(err)
	}
	for y, row := range rows {
		for x, text := range row {
			if text != was || len(was) < 4 && row[0] != "entries" {
				continue
			}
			at, err := excelize.CoordinatesToCellName(x+1, y+1)
			if err == nil {
				err = f.SetCellStr("Certificate", at, is)
			}
			if err == nil {
				err = f.SaveAs(to)
			}
			if err != nil {
				t.Fatal(err)
			}
			return
		}
	}
	t.Fatalf("the certificate does not hold %q", was)
}

// An archive whose log gets no key is not begun: nothing of it stays in its folder, and it
// can be begun anew. No chance is at hand to make a key of.
func TestArchiveNew_noKey(t *testing.T) {
	owner := filepath.Join(t.TempDir(), "owner")
	got := play(t, "", "archive", "new", "--archive", owner)
	if got.status != exitFailed || got.out != "" || !strings.Contains(got.err, "no random bytes for a key") {
		t.Errorf("exit status %d: %s%s", got.status, got.out, got.err)
	}
	if left, err := os.ReadDir(owner); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	book, _ := signedJob(t)
	demands(t, exitDone, book, "archive", "new", "--archive", owner)
}
