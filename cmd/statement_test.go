package cmd

import "testing"

// Each system hashes a file with a command of its own (from memory: certutil comes with
// Windows, shasum with macOS).
func TestSumLine(t *testing.T) {
	for system, want := range map[string]string{
		"linux": "sha256sum a.json   # told\n", "darwin": "shasum -a 256 a.json   # told\n", "windows": "certutil -hashfile a.json SHA256\n  told\n",
	} {
		if got := sumLine(system, "a.json", "told"); got != want {
			t.Errorf("%s: %q, want %q", system, got, want)
		}
	}
}
