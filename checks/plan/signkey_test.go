package plan_test

import (
	"encoding/base64"
	"errors"
	"strings"
	"testing"

	"handback/checks/plan"
)

// Public keys made with OpenSSH's ssh-keygen for nobody; the private ones are gone.
var madeKeys = map[string]string{
	"ed25519":   `ssh-ed25519 AAAAC3NzaC1lZDI1NTE5AAAAIIG3c4rRwg2toNMgC06o+rKtVNM5i9HSOjVWquphqL2K`,
	"ecdsa-256": `ecdsa-sha2-nistp256 AAAAE2VjZHNhLXNoYTItbmlzdHAyNTYAAAAIbmlzdHAyNTYAAABBBJ3pAde1+EsKaNJimFabXo32YJ+EUfh2B4r+KQ6HiT26cyCGITNPzM5BoDEftdfb0XE0x479/AS9MoWEPinOLAE=`,
	"ecdsa-384": `ecdsa-sha2-nistp384 AAAAE2VjZHNhLXNoYTItbmlzdHAzODQAAAAIbmlzdHAzODQAAABhBLFBncNzPny12N20mg3r7QHX11wI+xTJYwAWQzMPEri3rkqBBiwVOYPNfSZKNAoAcEB4SS5itElDw5/UBXsajZcDvz7BN83HRRgdC7qflXu8PB6DB1XX9nfzXCCMXIaaQQ==`,
	"ecdsa-521": `ecdsa-sha2-nistp521 AAAAE2VjZHNhLXNoYTItbmlzdHA1MjEAAAAIbmlzdHA1MjEAAACFBAAWsVX5708mNaK9pTOPtvaZ6KrIYblAWKGLJf9GX8xnoz6kLxc2Ba8LRXg1VisuI+GDtHnuPiCreIvfLrqg2MiaygC5KIvbq0MvnLvsKsT9hY/m5TXw/bofdaGsW/zl1fyk6NWfbIbWeDPldav7TDrYuvDuyIS7o7Lcv9KXMKwleLaoIw==`,
	"rsa-3072":  `ssh-rsa AAAAB3NzaC1yc2EAAAADAQABAAABgQDrqFvBa6Bl9lQuMHyUxwvXDNxgGPCKIgCeF5JfqvqIjx71Ux2XV4kNNa8UTpp+IaADyrbCQWYRtvXDa9kq+12u+x9MIaXXkjw6ou5TopzgNoC+WdosQ91iIwGc0lmoKmnUbfJ97quP79TrRRXD//NTemkRUn9+MUTwPtTfQ42UkP2lx6JZFivissPYEq3zvII8MhR8VTx400hly/0vxHdHQVN2YwmdlLWJZONllyXevY9OlxAy3hejiFiATDz0QWSMXNAWji54BCJE7FyQZxYmjh8UEu0YUSO3aoabZBYk9uVPzOuXD6R+DwKgX9iJM/0dZl417EpRMHCSveLPL9JNiyaBcu2VHMkt8OkPJQHSvUWQDmQpNDToOlm2LqiRBzvhNngHyrLmia7jey17Z1IaVtlDrVvkF+thC7ZiIVQ0a0YQOZKuFFlzG485uuOX6AMSH0H4seT/hd30mH5UzaqJE3SsZalMMJRU5GQkcbSlhSL8UTOTgakzTJ3NNu57kKM=`,
	"rsa-1024":  `ssh-rsa AAAAB3NzaC1yc2EAAAADAQABAAAAgQC5PmTXyrEGU98jDvDc1qX7AukTrvIwAGUIFvEqklVHtrlWSPTCxE/ihGKzgIIXODWFrwWOT/tg39x6w8x67s+HTHeCZKTfRNhKoMO/V1zcq8d8cYKA+3ZexuTqf1/vpE4/bGjCHbtiIpK8ZkHUGCTEiG4lQ505wiHvVDmn8/zMxQ==`,
}

// withKeys is the plan of these tests with keys for its two people.
func withKeys(ada, ben string) string {
	return strings.NewReplacer("role: technician}", `role: technician, keys: [`+ada+`]}`, "role: engineer}", `role: engineer, keys: [`+ben+`]}`).Replace(planText)
}

func TestLoadPlan_keys(t *testing.T) {
	text := withKeys(madeKeys["ed25519"]+", "+madeKeys["rsa-3072"]+" ada on the laptop", madeKeys["ecdsa-256"]+", "+madeKeys["ecdsa-384"]+", "+madeKeys["ecdsa-521"])
	p, err := plan.Load("plan.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	if ada, ben := p.People[0].Keys, p.People[1].Keys; len(ada) != 2 || ada[0] != madeKeys["ed25519"] || len(ben) != 3 || p.TesterMayVerify {
		t.Errorf("keys %q and %q, tester may verify %v", ada, ben, p.TesterMayVerify)
	}
	if p, err = plan.Load("plan.yaml", []byte(planText+"tester_may_verify: yes\n")); err != nil || !p.TesterMayVerify {
		t.Errorf("tester_may_verify: yes gives %v", err)
	}
	if err := validate(t, compiled(t), text+"tester_may_verify: no\n"); err != nil {
		t.Errorf("the schema refuses keys: %v", err)
	}
}

func TestLoadPlan_keyProblems(t *testing.T) {
	good := madeKeys["ed25519"]
	short := good[:len(good)-4]
	for name, c := range map[string]struct{ ada, ben, says string }{
		"words":         {"my key", "", `people[1].keys[1]: keys of type "my" do not sign here; accepted are ecdsa-sha2-nistp256,`},
		"one word":      {"ssh-ed25519", "", "people[1].keys[1]: a public key line is wanted"},
		"cut short":     {short, "", "people[1].keys[1]: the ssh-ed25519 key is not whole"},
		"no base64":     {"ssh-ed25519 AAAA!", "", "is not whole"},
		"other type":    {strings.Replace(good, "ssh-ed25519", "ssh-rsa", 1), "", "the ssh-rsa key is not whole"},
		"a certificate": {"ssh-ed25519-cert-v01@openssh.com AAAA", "", "do not sign here"},
		"short RSA":     {madeKeys["rsa-1024"], "", "an RSA key of less than 2048 bits does not sign here"},
		"two people":    {good, good + " other comment", "people[2].keys[1]: this key stands already at line 7: a key is one person's"},
		"second":        {good, madeKeys["rsa-3072"] + ", " + madeKeys["ecdsa-256"] + "x", "people[2].keys[2]: the ecdsa-sha2-nistp256 key is not whole"},
	} {
		_, err := plan.Load("plan.yaml", []byte(withKeys(c.ada, c.ben)))
		var all plan.Problems
		if !errors.As(err, &all) || len(all) != 1 || !strings.Contains(err.Error(), c.says) || !strings.HasPrefix(err.Error(), "plan.yaml:") {
			t.Errorf("%s: %v; want one problem that says %s", name, err, c.says)
		}
	}
}

// A key cut at any byte, or with bytes added, is not whole.
func TestKeyBlob_everyLength(t *testing.T) {
	for name, line := range madeKeys {
		kind, text, _ := strings.Cut(line, " ")
		blob, err := plan.KeyBlob(line)
		if name == "rsa-1024" {
			if err == nil {
				t.Error("an RSA key of 1024 bits is accepted")
			}
			continue
		}
		if whole, _ := base64.StdEncoding.DecodeString(text); err != nil || string(whole) != string(blob) {
			t.Fatalf("%s: %v", name, err)
		}
		for n := range len(blob) {
			if _, err := plan.KeyBlob(kind + " " + base64.StdEncoding.EncodeToString(blob[:n])); err == nil {
				t.Errorf("%s: the first %d of %d bytes are accepted", name, n, len(blob))
			}
		}
		if _, err := plan.KeyBlob(kind + " " + base64.StdEncoding.EncodeToString(append(blob, 0, 0, 0, 0))); err == nil {
			t.Errorf("%s: a part too many is accepted", name)
		}
	}
}
