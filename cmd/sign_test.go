package cmd

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"

	"golang.org/x/crypto/ssh"

	"handback/records"
	"handback/records/chain"
	"handback/report"
	"handback/testdata/outside"
)

// signers are the people of small.yaml, with the role each has there.
var signers = map[string]string{"ada": "technician", "ben": "engineer", "cleo": "owner"}

// keyedPlan writes keys of invented people into a folder, the same in every run: the
// files keys/ada and so on; keyed.yaml, which is small.yaml with these keys; and
// lenient.yaml, in which a tester may verify.
func keyedPlan(dir string) error {
	data, err := os.ReadFile(filepath.Join(scripts, "shared", "small.yaml"))
	if err != nil {
		return err
	}
	plan := strings.Replace(string(data), "unsigned_acceptance: yes\n", "", 1)
	if err := os.Mkdir(filepath.Join(dir, "keys"), 0o700); err != nil {
		return err
	}
	office, keysAlone := "", "" // lists of keys with the roles they sign in, and without
	for _, id := range slices.Sorted(maps.Keys(signers)) {
		role := signers[id]
		seed := sha256.Sum256([]byte("invented key of " + id))
		file, public, err := chain.NewKeyFile(seed[:], id, nil)
		if err != nil {
			return err
		}
		line := chain.KeyLine(public) + " " + id
		if err := os.WriteFile(filepath.Join(dir, "keys", id), file, 0o600); err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(dir, "keys", id+".pub"), []byte(line+"\n"), 0o644); err != nil {
			return err
		}
		office += id + ` namespaces="` + chain.StatementNamespace + "," + chain.RoleNamespace(role) + "," + chain.AcceptanceNamespace + `" ` + chain.KeyLine(public) + "\n"
		keysAlone += id + " " + chain.KeyLine(public) + "\n"
		at := "role: " + role + "}"
		if !strings.Contains(plan, at) {
			return fmt.Errorf("small.yaml has no %s", role)
		}
		plan = strings.Replace(plan, at, "role: "+role+", keys: ["+line+"]}", 1)
	}
	relief, late, err := reliefPlan(dir, plan, office)
	if err != nil {
		return err
	}
	for name, text := range map[string]string{"keyed.yaml": plan, "lenient.yaml": plan + "tester_may_verify: yes\n", "office": office, "office_keys": keysAlone, "relief.yaml": relief, "office_late": late} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			return err
		}
	}
	return nil
}

// lostAt is when the key of the engineer is lost in the relief plan.
const lostAt = "2026-05-12T14:00:00+01:00"

// reliefPlan is the plan with a relief engineer, dora, whose key it makes, and the key of the
// engineer revoked; and the list of the office as it is from then on.
func reliefPlan(dir, plan, office string) (relief, late string, err error) {
	seed := sha256.Sum256([]byte("invented key of dora"))
	file, public, err := chain.NewKeyFile(seed[:], "dora", nil)
	if err != nil {
		return "", "", err
	}
	line := chain.KeyLine(public) + " dora"
	err = errors.Join(os.WriteFile(filepath.Join(dir, "keys", "dora"), file, 0o600), os.WriteFile(filepath.Join(dir, "keys", "dora.pub"), []byte(line+"\n"), 0o644))
	relief = regexp.MustCompile(`role: engineer, keys: \[([^]]*)\]}`).ReplaceAllString(plan,
		"role: engineer, revoked: [{key: $1, from: "+lostAt+", why: the laptop was stolen}]}\n  - {id: dora, name: Dora Example, role: engineer, keys: ["+line+"]}")
	late = strings.Replace(office, `ben namespaces="`, `ben valid-before="20260512130000Z",namespaces="`, 1) +
		`dora namespaces="` + chain.StatementNamespace + "," + chain.RoleNamespace("engineer") + "," + chain.AcceptanceNamespace + `" ` + chain.KeyLine(public) + "\n"
	if relief == plan || !strings.Contains(late, "valid-before") {
		err = errors.Join(err, errors.New("small.yaml has no engineer to relieve"))
	}
	return relief, late, err
}

// keyedJob opens a job of the keyed plan and takes its first check.
func keyedJob(t *testing.T) (book, job string) {
	t.Helper()
	dir := t.TempDir()
	if err := keyedPlan(dir); err != nil {
		t.Fatal(err)
	}
	plan, err := os.ReadFile(filepath.Join(dir, "keyed.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	dead, err := os.ReadFile(filepath.Join(scripts, "shared", "dead.txt"))
	if err != nil {
		t.Fatal(err)
	}
	for name, data := range map[string][]byte{"plan.yaml": plan, "dead.txt": dead} {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	book = filepath.Join(dir, "book.db")
	job = openJob(t, book)
	runs(t, exitDone, program(book, "handback", "enter", job, "dead", "--file", "dead.txt"))
	return book, job
}

// runs runs a command that must end with a status, and gives all it printed.
func runs(t *testing.T, status int, c *exec.Cmd) string {
	t.Helper()
	out, err := c.CombinedOutput()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	if got := c.ProcessState.ExitCode(); got != status {
		t.Fatalf("%v ends with status %d, want %d:\n%s", c.Args[1:], got, status, out)
	}
	return string(out)
}

// protect makes a copy of a key file that opens with words alone, with ssh-keygen.
func protect(t *testing.T, path, words string) {
	t.Helper()
	if out, err := exec.Command(outside.Tool(t, "ssh-keygen"), "-q", "-p", "-P", "", "-N", words, "-f", path).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}

// The passphrase of a key is asked at the terminal, after the statement was accepted,
// and is never shown. A wrong one is asked again.
func TestSign_passphrase(t *testing.T) {
	outside.Long(t)
	book, job := keyedJob(t)
	protect(t, filepath.Join(filepath.Dir(book), "keys", "ben"), "four words for ben")
	args := []string{"handback", "sign", job, "--as", "engineer", "--key", "keys/ben"}
	c := onTerminal(t, 100, program(book, args...))
	c.sees("I, Ben Example, engineer of job pump-1, sign its record as it stands at entry 3.")
	c.answers("sign this? [yes/no]: ", "perhaps")
	c.sees(`"perhaps": yes or no is wanted`)
	c.answers("sign this? [yes/no]: ", "yes")
	c.answers("passphrase of keys/ben: ", "wrong words")
	c.sees("that is not its passphrase")
	c.answers("passphrase of keys/ben: ", "four words for ben")
	text := c.ends(exitDone)
	if !strings.Contains(text, "pump-1, entry 6: signed by Ben Example as engineer") || strings.Contains(text, "four words") || strings.Contains(text, "wrong words") {
		t.Errorf("%s", text)
	}

	c = onTerminal(t, 100, program(book, args...))
	c.answers("sign this? [yes/no]: ", "yes")
	c.sees("passphrase of keys/ben: ")
	c.sends("four\x03")
	c.ends(exitStopped)

	c = onTerminal(t, 100, program(book, append(args, "--yes")...))
	for range tries {
		c.answers("passphrase of keys/ben: ", "wrong words")
	}
	c.sees("the passphrase was not given in 3 tries; nothing was signed")
	c.ends(exitFailed)

	c = onTerminal(t, 100, program(book, args...))
	c.answers("sign this? [yes/no]: ", "no")
	c.sees("not signed")
	c.ends(exitFailed)

	pipe := program(book, append(args, "--yes")...)
	pipe.Stdin = strings.NewReader("four words for ben\n")
	if out := runs(t, exitFailed, pipe); !strings.Contains(out, "load the key into ssh-agent first") {
		t.Errorf("%s", out)
	}
	if n := len(entriesOf(t, book, job)); n != 6 {
		t.Errorf("%d entries, want one signature among 6", n)
	}
	sound(t, book)
}

// A key made at the terminal is protected by words typed twice, is its owner's alone
// and opens with ssh-keygen.
func TestKeyNew_terminal(t *testing.T) {
	book, _ := newJob(t, longPlan(1, 1))
	file := filepath.Join(filepath.Dir(book), "mine")
	c := onTerminal(t, 100, program(book, "handback", "key", "new", "-o", "mine"))
	c.answers("passphrase for the new key: ", "")
	c.sees("a key without a passphrase is made with --unprotected")
	c.answers("passphrase for the new key: ", "some words")
	c.answers("the same once more: ", "some word")
	c.sees("the two differ")
	c.answers("passphrase for the new key: ", "some words")
	c.answers("the same once more: ", "some words")
	if text := c.ends(exitDone); strings.Contains(text, "some word") {
		t.Errorf("the words are shown:\n%s", text)
	}
	info, err := os.Stat(file)
	if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Fatalf("%v, %v", info, err)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ssh.ParsePrivateKey(data); err == nil {
		t.Error("it opens without words")
	}
	public, err := os.ReadFile(file + ".pub")
	if err != nil {
		t.Fatal(err)
	}
	line, err := exec.Command(outside.Tool(t, "ssh-keygen"), "-y", "-P", "some words", "-f", file).Output()
	if err != nil || string(line) != string(public) {
		t.Errorf("ssh-keygen reads %s, %v; the public file says %s", line, err, public)
	}
	shown, err := program(book, "handback", "key", "show", "mine").Output()
	if err != nil || string(shown) != string(public) {
		t.Errorf("key show prints %s, %v", shown, err)
	}
	if out := runs(t, exitFailed, program(book, "handback", "key", "new", "-o", "mine", "--unprotected")); !strings.Contains(out, "a key is not written over") {
		t.Errorf("%s", out)
	}
	if again, err := os.ReadFile(file); err != nil || !bytes.Equal(again, data) {
		t.Errorf("the key was written over: %v", err)
	}
}

// A signature put on record past the program is examined by verify, doctor and status
// like any other: what is untrue in it is named, and the record is not intact.
func TestVerify_forgedSignature(t *testing.T) {
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	runs(t, exitDone, program(book, "handback", "sign", job, "--as", "technician", "--key", "keys/ada", "--yes"))
	entries := entriesOf(t, book, job)
	head := entries[len(entries)-1]
	var good report.Signed
	if err := chain.DecodeStrict(head.Data, &good); err != nil {
		t.Fatal(err)
	}
	st, err := chain.ParseStatement([]byte(good.Statement))
	if err != nil {
		t.Fatal(err)
	}
	st.Role, st.Person, st.Name, st.Entries, st.Head, st.Verdict = "engineer", "ben", "Ben Example", head.Seq, head.Hash, chain.Ready
	st.Handover = hex.EncodeToString(make([]byte, 32))
	text, err := st.Encode()
	if err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(filepath.Join(dir, "keys", "cleo"))
	if err != nil {
		t.Fatal(err)
	}
	key, err := ssh.ParsePrivateKey(file)
	if err != nil {
		t.Fatal(err)
	}
	armoured, err := chain.SignStatement(text, key)
	if err != nil {
		t.Fatal(err)
	}
	b, err := records.Open(context.Background(), book)
	if err != nil {
		t.Fatal(err)
	}
	_, err = b.Append(context.Background(), job, -1, chain.Draft{At: head.At, By: "ben", Kind: report.EntrySign, Data: report.Signed{Statement: string(text), Signature: armoured}})
	if err := errors.Join(err, b.Close()); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		args []string
		end  int
		says []string
	}{
		{[]string{"verify", job}, exitIntegrity, []string{"entry 6:", ": good", "entry 7:", ": NOT GOOD",
			`FAULT: entry 7, signature of ben as engineer: the statement gives as verdict "ready", the record gives "not-ready"`,
			"FAULT: entry 7, signature of ben as engineer: the statement gives as digest of the handover data",
			"FAULT: entry 7, signature of ben as engineer: the workbook that was signed is not stored with it", "is not listed for ben in the plan"}},
		{[]string{"doctor"}, exitIntegrity, []string{"FAULT: job pump-1, entry 7, signature: the statement gives as verdict", "warning: job pump-1, entry 7, signature: key SHA256:"}},
		{[]string{"status", job}, exitNotReady, []string{"signed by Ada Example as technician", "signed by Ben Example as engineer", "NOT SHOWN TO BE GOOD: the statement gives as verdict"}},
		{[]string{"flags", job}, exitDone, []string{"OPEN", "signature", "entry 7", "NOT SHOWN TO BE GOOD"}},
		{[]string{"statement", job}, exitIntegrity, []string{"entry 7: the record is not intact: the statement gives as verdict"}},
	} {
		rest := runs(t, c.end, program(book, append([]string{"handback"}, c.args...)...))
		for _, text := range c.says {
			_, after, ok := strings.Cut(rest, text)
			if !ok {
				t.Errorf("%v does not say %q here:\n%s", c.args, text, rest)
				break
			}
			rest = after
		}
	}
}
