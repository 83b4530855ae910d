package cmd

import (
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

// watched is a testscript.T that only remembers whether a script failed.
type watched struct {
	name string
	mu   *sync.Mutex
	bad  map[string]bool
}

func (w watched) Skip(...any)   { runtime.Goexit() }
func (w watched) Fatal(...any)  { w.FailNow() }
func (w watched) Parallel()     {}
func (w watched) Log(...any)    {}
func (w watched) Verbose() bool { return false }
func (w watched) FailNow() {
	w.mu.Lock()
	w.bad[w.name] = true
	w.mu.Unlock()
	runtime.Goexit()
}

func (w watched) Run(name string, f func(testscript.T)) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		f(watched{name, w.mu, w.bad})
	}()
	<-done
}

// A script fails when what it says is not so, and when it leaves a book behind
// that does not hold together or marks one as damaged that does.
func TestScripts_canFail(t *testing.T) {
	open := "exits 0 handback open small.yaml\n"
	cases := map[string]struct {
		script string
		fails  bool
	}{
		"right":           {open + "says stdout pump-1\n! says stdout pump-2\n", false},
		"other-status":    {"exits 0 handback wlak\n", true},
		"any-failure":     {"exits 1 handback wlak\n", true},
		"not-said":        {open + "says stdout pump-2\n", true},
		"other-order":     {open + "says stderr 'go on' 'is open'\n", true},
		"said-after-all":  {open + "! says stdout pump-1\n", true},
		"nothing-to-say":  {open + "says stdout ' '\n", true},
		"unmarked-damage": {open + "swap book.db 'high: 11.2 kV' 'high: 19.2 kV'\n", true},
		"marked-damage":   {open + "swap book.db 'high: 11.2 kV' 'high: 19.2 kV'\ndamaged book.db\n", false},
		"marked-sound":    {open + "damaged book.db\n", true},
		"marked-nothing":  {open + "damaged other.db\n", true},
		"swapped-nothing": {"swap small.yaml 'no such words' x\n", true},
		"cut-nothing":     {"truncate small.yaml 1000000\n", true},
	}
	dir := t.TempDir()
	var files []string
	for name, c := range cases {
		file := filepath.Join(dir, name+".txt")
		if err := os.WriteFile(file, []byte(c.script), 0o644); err != nil {
			t.Fatal(err)
		}
		files = append(files, file)
	}
	w := watched{"", &sync.Mutex{}, map[string]bool{}}
	p := scriptParams()
	p.Files, p.Dir, p.UpdateScripts = files, "", false
	w.Run("", func(ts testscript.T) { testscript.RunT(ts, p) })
	for name, c := range cases {
		if w.bad[name] != c.fails {
			t.Errorf("%s: fails %v, want %v:\n%s", name, w.bad[name], c.fails, c.script)
		}
	}
}
