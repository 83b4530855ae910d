package cmd

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/crypto/ssh"

	"handback/cmd/session"
	"handback/records/chain"
)

func newKeyShow(env *session.Env) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use: "show FILE", Short: "print the line of a key for the plan", Args: exactly("FILE"),
		Long: `Print the public line of a key, from its key file or its public key file: what goes
into the plan under keys: of its person, and into a list of allowed signers behind
the person's id. No passphrase is needed.`,
		Example: "  handback key show ~/.ssh/id_ed25519.pub",
		RunE:    func(c *cobra.Command, args []string) error { return runKeyShow(env, args[0], asJSON) },
	}
	jsonFlag(c, &asJSON)
	return c
}

// keyReport is a key for the plan.
type keyReport struct {
	Line        string `json:"line"` // with the comment
	Fingerprint string `json:"fingerprint"`
}

func runKeyShow(env *session.Env, path string, asJSON bool) error {
	public, err := publicKey(env, path)
	if err != nil {
		return err
	}
	line := chain.KeyLine(public) + " " + keyComment(strings.TrimSuffix(path, ".pub"))
	if asJSON {
		return printJSON(env.Out, keyReport{line, chain.Fingerprint(public)})
	}
	_, err = fmt.Fprintln(env.Out, line)
	fmt.Fprintf(env.Err, "%s\n", chain.Fingerprint(public))
	return err
}

// publicKey is the public key of a key file or a public key file.
func publicKey(env *session.Env, path string) (ssh.PublicKey, error) {
	data, public, err := readKeyFile(path)
	if err != nil {
		return nil, err
	}
	if public == nil {
		key, err := fileKey(env, path, data)
		if err != nil {
			return nil, err
		}
		public = key.public
	}
	if err := chain.UsableKey(public); err != nil {
		return nil, fmt.Errorf("key %s: %w", path, err)
	}
	return public, nil
}
