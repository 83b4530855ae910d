package outside

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Authority is an invented authority of time, made by openssl in a folder of its own.
type Authority struct {
	testing.TB
	Dir string
}

const authoritySettings = `
[tsa]
default_tsa = one
[one]
serial = ./serial
signer_cert = ./tsa.pem
signer_key = ./tsa.key
signer_digest = DIGEST
default_policy = 1.3.6.1.4.1.99999.1
digests = sha256, sha512
accuracy = secs:1, millisecs:500, microsecs:100
ess_cert_id_alg = ESS
[good]
extendedKeyUsage = critical,timeStamping
keyUsage = critical,digitalSignature
`

// NewAuthority makes one with keys of a kind, as openssl req takes it, that signs with a
// digest and names its certificate by another.
func NewAuthority(t testing.TB, key []string, digest, ess string) Authority {
	t.Helper()
	a := Authority{t, t.TempDir()}
	a.Write("tsa.cnf", strings.NewReplacer("DIGEST", digest, "ESS", ess).Replace(authoritySettings))
	a.Write("serial", "01\n")
	newKey := append([]string{"-newkey"}, key...)
	a.Run(append(append([]string{"req", "-x509"}, newKey...), "-nodes", "-keyout", "ca.key", "-out", "ca.pem", "-days", "3650", "-subj", "/CN=Invented root")...)
	a.Run(append(append([]string{"req"}, newKey...), "-nodes", "-keyout", "tsa.key", "-out", "tsa.csr", "-subj", "/CN=Invented authority of time")...)
	a.Run("x509", "-req", "-in", "tsa.csr", "-CA", "ca.pem", "-CAkey", "ca.key", "-CAcreateserial", "-out", "tsa.pem", "-days", "3000", "-extfile", "tsa.cnf", "-extensions", "good")
	return a
}

// Write writes a file of its folder.
func (a Authority) Write(name, text string) {
	a.Helper()
	if err := os.WriteFile(filepath.Join(a.Dir, name), []byte(text), 0o600); err != nil {
		a.Fatal(err)
	}
}

// Read reads one.
func (a Authority) Read(name string) []byte {
	a.Helper()
	data, err := os.ReadFile(filepath.Join(a.Dir, name))
	if err != nil {
		a.Fatal(err)
	}
	return data
}

// Run runs openssl in its folder.
func (a Authority) Run(args ...string) string {
	a.Helper()
	c := exec.Command(Tool(a, "openssl", "version"), args...)
	c.Dir = a.Dir
	out, err := c.CombinedOutput()
	if err != nil {
		a.Fatalf("openssl %v: %v: %s", args, err, out)
	}
	return string(out)
}

// Reply is what it answers to a query.
func (a Authority) Reply(query []byte) []byte {
	a.Helper()
	a.Write("q.tsq", string(query))
	a.Run("ts", "-reply", "-config", "tsa.cnf", "-queryfile", "q.tsq", "-out", "r.tsr")
	return a.Read("r.tsr")
}
