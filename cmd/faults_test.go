package cmd

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/outside"
)

// tornBook is a closed book with one job: readings, an attachment, a signature.
func tornBook(t *testing.T) (book, job string, image []byte) {
	t.Helper()
	book, job = signedJob(t)
	image, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(book + "-wal"); err == nil && info.Size() > 0 {
		t.Fatal("the book is closed and its log is not empty")
	}
	return book, job, image
}

// A closed book that is cut off anywhere is refused, or what is wrong with it is named.
// It is taken for whole only where the piece cut off held nothing: the unused end of its
// last page, if it has one. Then all of it is there as it was.
func TestBook_cutOff(t *testing.T) {
	t.Parallel()
	book, job, image := tornBook(t)
	whole := bodiesOf(t, book, job)
	step := len(image) / 80
	if testing.Short() {
		step *= 10
	}
	const page = 4096
	used := len(bytes.TrimRight(image, "\x00"))
	for size := 0; size < len(image); size += step {
		for _, n := range []int{size, size / page * page} {
			writeBook(t, book, image[:n], nil)
			for _, args := range [][]string{{"doctor"}, {"verify", job}} {
				status, text := asks(t, book, args...)
				if n >= used && status == exitDone {
					continue
				}
				if status != exitIntegrity && status != exitFailed || text == "" {
					t.Fatalf("cut off at %d of %d bytes %v ends with status %d:\n%s", n, len(image), args, status, text)
				}
			}
			if left, err := os.ReadFile(book); err != nil || !bytes.Equal(left, image[:n]) {
				t.Fatalf("looking at a book cut off at %d bytes changed it: %v", n, err)
			}
		}
	}
	writeBook(t, book, image[:used], nil)
	if !slices.Equal(whole, bodiesOf(t, book, job)) {
		t.Errorf("%d of %d bytes are used, and without the rest not all entries are there", used, len(image))
	}
	demands(t, exitDone, book, "enter", job, "look", "who=ada", "s1=yes", "s2=yes", "--past-hold", "looked before")
	sound(t, book)
	writeBook(t, book, image, nil)
	sound(t, book)
}

// A power cut in the middle of a write leaves a write-ahead log cut off anywhere, or
// with a block that never reached the disk. What was kept before is there, in whole
// entries and in their order; the book is intact and takes what comes next.
func TestBook_tornLog(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	const checks, points = 3, 4
	book, job := newJob(t, longPlan(checks, points))
	image, err := os.ReadFile(book)
	if err != nil {
		t.Fatal(err)
	}
	n := &numbers{}
	c := onPipes(t, program(book, "handback", "walk", job))
	for range checks * (points + 1) / 2 {
		if !n.answer(c) {
			t.Fatal("the walk ended early")
		}
	}
	if _, ok := c.asks(); !ok {
		t.Fatal("the walk ended early")
	}
	c.cmd.Process.Kill()
	c.all()
	log, err := os.ReadFile(book + "-wal")
	if err != nil || len(log) < 8*4096 {
		t.Fatalf("a log of %d bytes, %v: nothing would be cut", len(log), err)
	}
	writeBook(t, book, image, log)
	whole := bodiesOf(t, book, job)
	step := 2003 // a prime, to meet every place in a page
	if testing.Short() {
		step = 3011
	}
	counts := map[int]bool{}
	for at := 0; at < len(log); at += step {
		spoilt := bytes.Clone(log)
		spoilt[at] ^= 1
		blank := bytes.Clone(log)
		clear(blank[at:min(at+512, len(blank))])
		for what, torn := range map[string][]byte{"cut off": log[:at], "changed": spoilt, "blank": blank} {
			writeBook(t, book, image, torn)
			if at%(4*step) == 0 {
				sound(t, book)
			}
			now := bodiesOf(t, book, job)
			if len(now) > len(whole) || !slices.Equal(now, whole[:len(now)]) {
				t.Fatalf("log %s at %d of %d bytes: other entries than were written", what, at, len(log))
			}
			counts[len(now)] = true
		}
	}
	writeBook(t, book, image, log)
	for i, e := range entriesOf(t, book, job) {
		// A finding is written with the line that completes its check, never alone.
		if together := e.Kind == report.EntryJudge; counts[i] == together && i > 0 {
			t.Errorf("a torn log left the first %d entries: %v, want %v", i, counts[i], !together)
		}
	}
	writeBook(t, book, image, log[:len(log)/2])
	if !walkToEnd(t, n, book, job) {
		t.Error("the job could not be finished after the log was torn")
	}
	sound(t, book)
}

// A changed byte in a signature as it lies in the book is named with its entry.
func TestSignature_everyByteOfTheFile(t *testing.T) {
	t.Parallel()
	book, job, image := tornBook(t)
	entries := entriesOf(t, book, job)
	signed := entries[len(entries)-1]
	if signed.Kind != report.EntrySign {
		t.Fatalf("the last entry is a %s", signed.Kind)
	}
	at := bytes.Index(image, signed.Body[:64])
	if at < 0 || bytes.Count(image, signed.Body[:64]) != 1 || !bytes.HasPrefix(image[at:], signed.Body) {
		t.Fatal("the signature does not lie in one piece in the book")
	}
	step := 7
	if testing.Short() {
		step = 101
	}
	want := fmt.Sprintf("entry %d", signed.Seq)
	for i := 0; i < len(signed.Body); i += step {
		changed := bytes.Clone(image)
		changed[at+i] ^= 1 << (i % 8)
		writeBook(t, book, changed, nil)
		if text := demands(t, exitIntegrity, book, "doctor"); !strings.Contains(text, want) {
			t.Errorf("byte %d of the signature is changed, and %s is not named:\n%s", i, want, text)
		}
	}
}

// forged are signatures with one byte changed: of the statement, or of what signs it.
func forged(good report.Signed, step int) []report.Signed {
	other := func(text string, i int, to byte) string { return text[:i] + string(to) + text[i+1:] }
	var out []report.Signed
	for i := 0; i < len(good.Statement); i += step {
		out = append(out, report.Signed{Statement: other(good.Statement, i, good.Statement[i]^1), Signature: good.Signature})
	}
	from, to := strings.Index(good.Signature, "\n")+1, strings.LastIndex(good.Signature, "\n-----END")
	for i := from; i < to; i += step {
		letter := byte('A')
		if good.Signature[i] == letter {
			letter = 'B'
		}
		if good.Signature[i] != '\n' && good.Signature[i] != '=' {
			out = append(out, report.Signed{Statement: good.Statement, Signature: other(good.Signature, i, letter)})
		}
	}
	return out
}

// A signature with one changed byte that somebody puts on record in a sound chain is
// named with its entry, and the good one before it is not.
func TestSignature_everyByteOfTheEntry(t *testing.T) {
	t.Parallel()
	book, job, _ := tornBook(t)
	entries := entriesOf(t, book, job)
	head := entries[len(entries)-1]
	var good report.Signed
	if err := chain.DecodeStrict(head.Data, &good); err != nil {
		t.Fatal(err)
	}
	step := 5
	if testing.Short() {
		step = 51
	}
	var drafts []chain.Draft
	for _, bad := range forged(good, step) {
		drafts = append(drafts, chain.Draft{At: head.At, By: head.By, Kind: report.EntrySign, Data: bad})
	}
	if len(drafts) < len(good.Statement)/step {
		t.Fatalf("only %d forged signatures", len(drafts))
	}
	b, err := records.Open(t.Context(), book)
	if err != nil {
		t.Fatal(err)
	}
	_, err = b.Append(t.Context(), job, head.Seq, drafts...)
	if err := errors.Join(err, b.Close()); err != nil {
		t.Fatal(err)
	}
	doctor, verify := demands(t, exitIntegrity, book, "doctor"), demands(t, exitIntegrity, book, "verify", job)
	for i := range drafts {
		seq := head.Seq + 1 + i
		if !strings.Contains(doctor, fmt.Sprintf("FAULT: job %s, entry %d, signature: ", job, seq)) || !strings.Contains(verify, fmt.Sprintf("FAULT: entry %d, signature", seq)) {
			t.Errorf("the changed signature of entry %d is not named", seq)
		}
	}
	if strings.Contains(doctor, fmt.Sprintf(" entry %d,", head.Seq)) || !strings.Contains(verify, ": good\n") {
		t.Errorf("the good signature is named, or not said to be good:\n%s", verify)
	}
}
