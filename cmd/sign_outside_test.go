package cmd

import (
	"bytes"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"handback/cmd/session"
	"handback/records/chain"
	"handback/testdata/outside"
)

// shell runs a line as a person would paste it.
func shell(t *testing.T, dir, line string) (string, error) {
	t.Helper()
	c := exec.Command(outside.Tool(t, "sh"), "-c", line)
	c.Dir = dir
	out, err := c.CombinedOutput()
	return string(out), err
}

// The commands that statement prints are accepted by OpenSSH and coreutils as they
// stand, in a folder whose name needs quoting, and no more once a byte is changed.
func TestStatement_commandsVerify(t *testing.T) {
	outside.Tool(t, "ssh-keygen")
	outside.Tool(t, "sha256sum")
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	runs(t, exitDone, program(book, "handback", "sign", job, "--as", "engineer", "--key", "keys/ben", "--yes"))
	line, err := os.ReadFile(filepath.Join(dir, "keys", "ben.pub"))
	if err != nil {
		t.Fatal(err)
	}
	list := filepath.Join(dir, "list")
	if err := os.WriteFile(list, []byte("ben valid-after=\"20260501Z\",valid-before=\"20260601Z\" "+string(line)), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, more := range map[string][]string{"it's signed": nil, "plain": nil, "bounded": {"--allowed-signers", list}} {
		var talk bytes.Buffer
		c := program(book, append([]string{"handback", "statement", job, "-o", name}, more...)...)
		c.Stderr = &talk
		out, err := c.Output()
		if err != nil {
			t.Fatal(err, talk.String())
		}
		verify, rest, _ := strings.Cut(string(out), "\n")
		sums := strings.Split(strings.TrimSpace(rest), "\n")
		if !strings.HasPrefix(verify, "ssh-keygen -Y verify ") || len(sums) != 3 {
			t.Fatalf("%s", out)
		}
		if said, err := shell(t, dir, verify); err != nil || !strings.HasPrefix(said, `Good "handback-statement" signature for ben with ED25519 key SHA256:`) {
			t.Errorf("%s: %v %s", verify, err, said)
		}
		file := filepath.Join(dir, name, "statement.json")
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for i, member := range []string{"handover", "workbook", "page"} {
			_, digest, _ := strings.Cut(sums[i], "# "+member+" in the statement: ")
			if said, err := shell(t, dir, sums[i]); err != nil || len(digest) != 64 || !strings.HasPrefix(said, digest) {
				t.Errorf("%s: %v %s", sums[i], err, said)
			}
			if !bytes.Contains(data, []byte(`"`+member+`":"`+digest+`"`)) {
				t.Fatalf("%s does not hold %s", data, digest)
			}
		}
		if err := os.WriteFile(file, bytes.Replace(data, []byte("Ben"), []byte("Bem"), 1), 0o600); err != nil {
			t.Fatal(err)
		}
		if said, err := shell(t, dir, verify); err == nil {
			t.Errorf("a changed statement is accepted: %s", said)
		}
	}
	sound(t, book)
}

// withAgent starts ssh-agent and gives its socket.
func withAgent(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp("", "agent") // a socket's path is short
	if err != nil {
		t.Fatal(err)
	}
	socket := filepath.Join(dir, "s")
	c := exec.Command(outside.Tool(t, "ssh-agent"), "-D", "-a", socket)
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Process.Kill(); c.Wait(); os.RemoveAll(dir) })
	if _, err := io.ReadAtLeast(out, make([]byte, 16), 16); err != nil { // it says where it listens once it does
		t.Fatal(err)
	}
	return socket
}

// Keys that ssh-agent holds sign: the one the plan lists, or the one that is named by
// public key file or fingerprint. Ed25519 and RSA are both tried.
func TestSign_agent(t *testing.T) {
	outside.Long(t)
	socket := withAgent(t)
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	rsaKey := filepath.Join(dir, "keys", "rsa")
	if out, err := exec.Command(outside.Tool(t, "ssh-keygen"), "-q", "-t", "rsa", "-b", "3072", "-N", "", "-f", rsaKey).CombinedOutput(); err != nil {
		t.Fatal(string(out), err)
	}
	as := func(args ...string) *exec.Cmd {
		c := program(book, args...)
		c.Env = append(c.Env, "SSH_AUTH_SOCK="+socket)
		return c
	}
	if out := runs(t, exitUsage, as("handback", "sign", job, "--as", "engineer", "--yes")); !strings.Contains(out, "say with which key: --key FILE; ssh-agent holds 0 keys") {
		t.Errorf("%s", out)
	}
	for _, key := range []string{"ada", "ben", "rsa"} {
		runs(t, 0, as(outside.Tool(t, "ssh-add"), "-q", filepath.Join(dir, "keys", key)))
		if key != "rsa" { // from here on the agent alone can sign
			if err := os.Remove(filepath.Join(dir, "keys", key)); err != nil {
				t.Fatal(err)
			}
		}
	}
	ben, err := os.ReadFile(filepath.Join(dir, "keys", "ben.pub"))
	if err != nil {
		t.Fatal(err)
	}
	public, _, err := chain.ParseKey(string(ben))
	if err != nil {
		t.Fatal(err)
	}
	runs(t, exitDone, as("handback", "sign", job, "--as", "technician", "--yes"))
	runs(t, exitDone, as("handback", "sign", job, "--as", "engineer", "--key", "keys/ben.pub", "--yes"))
	runs(t, exitDone, as("handback", "sign", job, "--as", "engineer", "--key", chain.Fingerprint(public), "--yes"))
	if out := runs(t, exitFailed, as("handback", "sign", job, "--as", "engineer", "--key", "keys/cleo.pub", "--yes")); !strings.Contains(out, "ssh-agent does not hold key keys/cleo.pub") {
		t.Errorf("%s", out)
	}
	if out := runs(t, exitFailed, as("handback", "sign", job, "--as", "engineer", "--key", "keys/rsa.pub", "--yes")); !strings.Contains(out, "is not one that the plan lists for Ben Example") {
		t.Errorf("%s", out)
	}
	if out := runs(t, exitDone, as("handback", "verify", job)); strings.Count(out, ": good") != 3 {
		t.Errorf("%s", out)
	}

	other := unlistedJob(t)
	c := as("handback", "--book", other, "sign", "pump-1", "--as", "engineer", "--key", "keys/rsa.pub", "--yes")
	c.Dir = dir
	runs(t, exitDone, c)
	line, err := os.ReadFile(rsaKey + ".pub")
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "list"), []byte("b?n,cleo "+string(line)), 0o600); err != nil {
		t.Fatal(err)
	}
	if out := runs(t, exitDone, program(other, "handback", "verify", "pump-1")); !strings.Contains(out, "the plan lists no key for Ben Example") || strings.Contains(out, ": good") {
		t.Errorf("%s", out)
	}
	check := program(other, "handback", "verify", "pump-1", "--allowed-signers", filepath.Join(dir, "list"))
	if out := runs(t, exitDone, check); strings.Count(out, ": good") != 1 {
		t.Errorf("%s", out)
	}
	sound(t, book)
}

// unlistedJob opens a job of the plan without keys in a book of its own.
func unlistedJob(t *testing.T) string {
	t.Helper()
	book := filepath.Join(t.TempDir(), "other.db")
	plan, err := filepath.Abs(filepath.Join(scripts, "shared", "small.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	runs(t, exitDone, program(book, "handback", "open", plan))
	return book
}

func TestShellWord(t *testing.T) {
	for _, word := range []string{"plain/name-1.json", "two words", "it's", "$HOME", "`x`", "", "a\"b", "-dash", "ü"} {
		out, err := shell(t, t.TempDir(), "printf %s "+session.PosixWord(word))
		if err != nil || out != word {
			t.Errorf("%q comes out of the shell as %q, %v", word, out, err)
		}
	}
}

// An acceptance goes out unsigned, is signed by ssh-keygen where the key is, and comes back;
// changed on the way, or signed with another key, it is not taken.
func TestAccept_signedElsewhere(t *testing.T) {
	outside.Tool(t, "ssh-keygen")
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	runs(t, exitDone, program(book, "handback", "done", job, "energise"))
	runs(t, exitDone, program(book, "handback", "enter", job, "hv", "meter=hvm", "value=11.25"))
	out := func(file, why string) {
		t.Helper()
		said := runs(t, exitDone, program(book, "handback", "accept", job, "hv", "--by", "ben", "--why", why, "--unsigned", "-o", file))
		if !strings.Contains(said, "ssh-keygen -Y sign -f KEY -n handback-acceptance "+file+"\n") {
			t.Fatalf("%s", said)
		}
	}
	signs := func(file, key string) {
		t.Helper()
		if said, err := shell(t, dir, "ssh-keygen -Y sign -f keys/"+key+" -n handback-acceptance "+file); err != nil {
			t.Fatal(err, said)
		}
	}
	out("stranger.json", "supply is high today")
	signs("stranger.json", "cleo")
	if said := runs(t, exitFailed, program(book, "handback", "accept", job, "--signature", "stranger.json.sig")); !strings.Contains(said, "not accepted: by a key not known") {
		t.Errorf("%s", said)
	}
	out("changed.json", "supply is high today")
	signs("changed.json", "ben")
	data, err := os.ReadFile(filepath.Join(dir, "changed.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "changed.json"), bytes.Replace(data, []byte("high"), []byte("fine"), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	if said := runs(t, exitFailed, program(book, "handback", "accept", job, "--signature", "changed.json.sig")); !strings.Contains(said, "the signature does not fit the acceptance") {
		t.Errorf("%s", said)
	}
	// what came in between changes nothing, as long as the finding is the newest
	out("late.json", "supply is high today")
	signs("late.json", "ben")
	out("other.json", "supply is high this week")
	signs("other.json", "ben")
	runs(t, exitDone, program(book, "handback", "enter", job, "lv", "meter=dmm", "l1l2=432.6", "l2l3=432.9", "l3l1=432.7", "l1n=249.8", "l2n=249.7", "l3n=249.9"))
	if said := runs(t, exitDone, program(book, "handback", "accept", job, "--signature", "late.json.sig")); !strings.Contains(said, "signed with key SHA256:") {
		t.Errorf("%s", said)
	}
	// it accepts that one finding
	runs(t, exitDone, program(book, "handback", "enter", job, "hv", "meter=hvm", "value=11.26", "--repeat", "read once more"))
	for file, want := range map[string]string{"late.json.sig": "entry 9 keeps it already: nothing was recorded", "other.json.sig": "it was signed with entry"} {
		if said := runs(t, exitFailed, program(book, "handback", "accept", job, "--signature", file)); !strings.Contains(said, want) {
			t.Errorf("%s", said)
		}
	}
	line := "ssh-keygen -Y verify -f list -I ben -n handback-acceptance -s late.json.sig < late.json"
	key, err := os.ReadFile(filepath.Join(dir, "keys", "ben.pub"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "list"), []byte("ben "+string(key)), 0o600); err != nil {
		t.Fatal(err)
	}
	if said, err := shell(t, dir, line); err != nil {
		t.Errorf("%v %s", err, said)
	}
	sound(t, book)
}

// A statement goes out unsigned, is signed by ssh-keygen where the key is, and comes back; one
// on an earlier state, of another key or changed on the way is not taken.
func TestSign_signedElsewhere(t *testing.T) {
	outside.Tool(t, "ssh-keygen")
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	out := func(file, role string) {
		t.Helper()
		said := runs(t, exitDone, program(book, "handback", "statement", job, "--unsigned", "--as", role, "-o", file))
		if !strings.Contains(said, "As "+role+" I say") || !strings.Contains(said, "ssh-keygen -Y sign -f KEY -n handback-statement "+file+"\n") {
			t.Fatalf("%s", said)
		}
	}
	signs := func(file, namespace, key string) {
		t.Helper()
		if said, err := shell(t, dir, "ssh-keygen -Y sign -f keys/"+key+" -n "+namespace+" "+file); err != nil {
			t.Fatal(err, said)
		}
	}
	refused := func(file, why string) {
		t.Helper()
		if said := runs(t, exitFailed, program(book, "handback", "sign", job, "--signature", file+".sig")); !strings.Contains(said, why) {
			t.Errorf("%s: %s, want %q", file, said, why)
		}
	}
	out("stranger", "engineer")
	signs("stranger", chain.StatementNamespace, "cleo")
	refused("stranger", "is not one that the plan lists for Ben Example")
	out("crossed", "engineer")
	signs("crossed", chain.AcceptanceNamespace, "ben")
	refused("crossed", `was made for namespace "handback-acceptance"`)
	out("changed", "engineer")
	data, err := os.ReadFile(filepath.Join(dir, "changed"))
	if err != nil {
		t.Fatal(err)
	}
	// signed as it should be, but it says another verdict than the record comes to
	if err := os.WriteFile(filepath.Join(dir, "changed"), bytes.Replace(data, []byte(`"not-ready"`), []byte(`"ready"`), 1), 0o600); err != nil {
		t.Fatal(err)
	}
	signs("changed", chain.StatementNamespace, "ben")
	refused("changed", `the statement gives as verdict "ready", the record gives "not-ready"`)
	out("early", "engineer")
	signs("early", chain.StatementNamespace, "ben")
	runs(t, exitDone, program(book, "handback", "done", job, "energise"))
	refused("early", "1 entry came after what was signed: write it out again with: handback statement "+job+" --unsigned --as engineer --output FILE")
	out("state", "engineer")
	signs("state", chain.StatementNamespace, "ben")
	if said := runs(t, exitDone, program(book, "handback", "sign", job, "--signature", "state.sig")); !strings.Contains(said, "signed by Ben Example as engineer") {
		t.Errorf("%s", said)
	}
	out("owner", "owner")
	signs("owner", chain.StatementNamespace, "cleo")
	if said := runs(t, exitDone, program(book, "handback", "sign", job, "--signature", "owner.sig")); !strings.Contains(said, "signed by Cleo Example as owner") {
		t.Errorf("%s", said)
	}
	if said := runs(t, exitDone, program(book, "handback", "verify", job)); strings.Count(said, ": good") != 2 || !strings.Contains(said, "record intact") {
		t.Errorf("%s", said)
	}
	sound(t, book)
}
