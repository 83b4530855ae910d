// Command measure holds what the program takes against the least that the same work can
// take, in one run on one machine, and prints a table in Markdown:
//
//	go run ./testdata/measure            every row
//	go run ./testdata/measure fold disk  the rows whose names hold one of the words
//	go run ./testdata/measure -o testdata/measure/MEASURED.md
//
// Times are medians of processor time, user and system, but where a row says that it waits
// for the disk. Both sides of a row are taken in turn, so that what else runs on the machine
// disturbs both alike. A row is added to rows, in a file of its own for another part of the
// program.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"handback/testdata/demo"
	"handback/testdata/outside"
)

// row is one line of the table.
type row struct {
	what, floor string  // what is measured, and what it is held against
	goal        float64 // how many times the floor it may take
	measure     func(*bench) (sides, error)
}

// sides are what a row came to, in its unit.
type sides struct {
	ours, floor float64
	unit        string
}

// bench is what rows measure with.
type bench struct {
	ctx     context.Context
	dir     string // scratch, on the disk that is measured
	program string // handback as it is shipped
	nothing string // a program of Go that does nothing

	jobs     int               // of an owner
	owners   map[string]*owned // by engine
	postgres *outside.Postgres
	lifted
}

func rows() []row {
	var all []row
	for _, part := range [][]row{starting, folding, storing, examining, archiving, printing} {
		all = append(all, part...)
	}
	return all
}

func main() {
	out := flag.String("o", "", "write the table into this file")
	jobs := flag.Int("jobs", 20_000, "how many jobs an owner's archive has")
	flag.Parse()
	if err := run(*out, *jobs, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

func run(out string, jobs int, words []string) error {
	dir, err := os.MkdirTemp("", "handback-measure-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	b := &bench{ctx: context.Background(), dir: dir, jobs: jobs, owners: map[string]*owned{}}
	defer b.end()
	defer func() {
		for _, o := range b.owners {
			o.close() // all was measured
		}
	}()
	if err := b.build(); err != nil {
		return err
	}
	w := io.Writer(os.Stdout)
	if out != "" {
		f, err := os.Create(filepath.Clean(out))
		if err != nil {
			return err
		}
		defer f.Close()
		w = io.MultiWriter(f, os.Stdout)
	}
	fmt.Fprintf(w, "# Measured\n\n%s, %s, %s/%s, %d processors, %s\n\n", time.Now().Format("2006-01-02"), machine(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), runtime.Version())
	fmt.Fprintf(w, "Made by `go run ./testdata/measure`. Processor time, medians, both sides in turn; the ratio is what counts. The archive of an owner has %d jobs.\n\n", jobs)
	fmt.Fprintf(w, "| work | held against | ours | floor | ratio | goal |\n| --- | --- | ---: | ---: | ---: | ---: |\n")
	for _, r := range rows() {
		if !wanted(r.what, words) {
			continue
		}
		s, err := r.measure(b)
		if err != nil {
			return fmt.Errorf("%s: %w", r.what, err)
		}
		met := ""
		if !(s.ours/s.floor <= r.goal) {
			met = ", not met"
		}
		fmt.Fprintf(w, "| %s | %s | %.3g %s | %.3g %s | %.2f | %g%s |\n", r.what, r.floor, s.ours, s.unit, s.floor, s.unit, s.ours/s.floor, r.goal, met)
	}
	fmt.Fprintf(w, "\n%s", why)
	return nil
}

// why says what stands behind the goals that are far off.
const why = `Where a goal is far off:

- start: two of six milliseconds are packages of others that set themselves up before main (a fifth of the whole the tables and patterns of the
  spreadsheet library, which cannot be linked without them), most of the rest pages of a large binary. No package of ours compiles a pattern there.
- status: a quarter is start, a fifth reads the plan and holds it against its rules (what is wrong with a plan stands against ready), a fifth folds, a seventh judges
  again because the demo is ready, a tenth opens the data base; a third of all that is pages of 4 KiB that the system gives one by one. A program that starts in 6 ms
  has 5 left for all of it within the goal. Of a job of 5,000 entries two thirds is reading and decoding the entries, which grow with the job: twice the demo would be
  5 µs an entry for reading, hashing, decoding and taking it up; it is 18.
- accepted line: three fifths of the time is SQLite's, which writes three pages of 4 KiB through its log; on a disk whose fsync takes 0.2 ms that
  weighs more than it. There is one fsync a line, which a test counts.
- handover of 4,800 readings: these are 630,000 cells. A third of the time judges what each answer alone would change (at most 40,000 judgements,
  so that it weighs little in a larger job), a sixth packs with the deflate of the standard library, a sixth is the collector's; the cells
  themselves take some 1.5 µs each. Of 100,000 readings a quarter packs and a fifth goes through the large heap of the job again and again.
- memory of the handover of 100,000: the words of the document take some 120 MB, where each of the 1.5 million rows and every reading stands
  most of the rest. Rows and packed parts wait in files.
- verify and recall: what they are held against became cheaper on the same day (decoding an entry, a fold), they less so.
- handover of 100,000: the document of the job is held whole while its sheets are written row by row; to be within 80 MB it would have to be made sheet by sheet.
- memory of an archive: adding holds both sides. ` + "`" + `find` + "`" + ` and ` + "`" + `doctor` + "`" + ` grow until the page cache of SQLite, 32 MiB a connection, and the heap are full:
  ` + "`" + `find` + "`" + ` takes 108 MiB over 60,000 states and 112 over 120,000.
`

func wanted(what string, words []string) bool {
	for _, word := range words {
		if strings.Contains(what, word) {
			return true
		}
	}
	return len(words) == 0
}

// build makes the programs that are measured whole.
func (b *bench) build() error {
	b.program, b.nothing = filepath.Join(b.dir, "handback"), filepath.Join(b.dir, "nothing")
	empty := filepath.Join(b.dir, "nothing.go")
	if err := os.WriteFile(empty, []byte("package main\n\nfunc main() {}\n"), 0o600); err != nil {
		return err
	}
	for out, from := range map[string]string{b.program: "handback/cmd/handback", b.nothing: empty} {
		c := exec.Command("go", "build", "-o", out, from)
		c.Env = append(os.Environ(), "CGO_ENABLED=0")
		if said, err := c.CombinedOutput(); err != nil {
			return fmt.Errorf("%w\n%s", err, said)
		}
	}
	return nil
}

// played is the book of the demo.
func (b *bench) played() (book string, err error) {
	book = filepath.Join(b.dir, "demo", "book.db")
	if _, err := os.Stat(book); err == nil {
		return book, nil
	}
	if len(demo.Plan) == 0 {
		return "", errors.New("no demo")
	}
	said, err := exec.Command(b.program, "demo", "-o", filepath.Join(b.dir, "demo")).CombinedOutput()
	if err != nil {
		err = fmt.Errorf("%w\n%s", err, said)
	}
	return book, err
}

// machine is the processor, as far as the system tells it.
func machine() string {
	data, err := os.ReadFile("/proc/cpuinfo")
	if err != nil {
		return "processor not told"
	}
	for line := range strings.Lines(string(data)) {
		if name, ok := strings.CutPrefix(line, "model name"); ok {
			return strings.TrimSpace(strings.TrimLeft(name, "\t :"))
		}
	}
	return "processor not told"
}
