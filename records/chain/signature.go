package chain

import (
	"bytes"
	"crypto/ed25519"
	"crypto/rsa"
	"encoding/pem"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/hiddeco/sshsig"
	"golang.org/x/crypto/ssh"
)

// keyTypes are the keys that sign here. Each is verified by ssh-keygen alone too.
var keyTypes = []string{ssh.KeyAlgoED25519, ssh.KeyAlgoECDSA256, ssh.KeyAlgoECDSA384, ssh.KeyAlgoECDSA521, ssh.KeyAlgoRSA}

// minRSABits is the shortest RSA key that signs here.
const minRSABits = 2048

// maxSignature bounds an armoured signature; the longest RSA one has some 6 KiB.
const maxSignature = 16 << 10

// SignStatement signs the bytes of a statement with a key and gives the signature in
// the armour of SSHSIG, which ssh-keygen -Y verify reads. With an Ed25519 key equal
// bytes give equal signatures; with others they do not.
//
// Errors: a key that does not sign here; what the key or its agent says.
func SignStatement(statement []byte, key ssh.Signer) (string, error) {
	return SignIn(StatementNamespace, statement, key)
}

// SignIn is SignStatement for bytes of another namespace.
func SignIn(namespace string, statement []byte, key ssh.Signer) (string, error) {
	if err := UsableKey(key.PublicKey()); err != nil {
		return "", err
	}
	sig, err := sshsig.Sign(bytes.NewReader(statement), key, sshsig.HashSHA512, namespace)
	if err != nil {
		return "", fmt.Errorf("sign with key %s: %w", ssh.FingerprintSHA256(key.PublicKey()), err)
	}
	armoured := string(sshsig.Armor(sig))
	if _, err := CheckIn(namespace, statement, armoured); err != nil { // an agent may answer anything
		return "", fmt.Errorf("sign with key %s: what it gave is no signature: %w", ssh.FingerprintSHA256(key.PublicKey()), err)
	}
	return armoured, nil
}

// CheckSignature tells whose key signed the bytes of a statement. Whether that key is
// a known person's is for Signers to say.
//
// Errors: the armour cannot be read; another namespace; a key that does not sign
// here; a signature that does not fit the bytes.
func CheckSignature(statement []byte, armoured string) (ssh.PublicKey, error) {
	return CheckIn(StatementNamespace, statement, armoured)
}

// CheckIn is CheckSignature for bytes of another namespace.
func CheckIn(namespace string, statement []byte, armoured string) (ssh.PublicKey, error) {
	if len(armoured) > maxSignature {
		return nil, fmt.Errorf("signature of %d bytes: at most %d are read", len(armoured), maxSignature)
	}
	block, rest := pem.Decode([]byte(armoured))
	if block == nil || block.Type != sshsig.PEMType || len(block.Headers) > 0 || len(bytes.TrimSpace(rest)) > 0 || !strings.HasPrefix(armoured, "-----BEGIN") {
		return nil, errors.New("the signature cannot be read: one SSH SIGNATURE block is wanted")
	}
	sig, err := sshsig.ParseSignature(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("the signature cannot be read: %w", err)
	}
	if sig.Namespace != namespace {
		return nil, fmt.Errorf("the signature was made for namespace %.60q, not for %s", sig.Namespace, namespace)
	}
	if err := UsableKey(sig.PublicKey); err != nil {
		return nil, err
	}
	if len(sig.Signature.Rest) > 0 {
		return nil, errors.New("the signature cannot be read: it has bytes after its end")
	}
	if err := sshsig.Verify(bytes.NewReader(statement), sig, sig.PublicKey, sig.HashAlgorithm, namespace); err != nil {
		return nil, fmt.Errorf("the signature does not fit the %s: key %s did not sign these bytes", strings.TrimPrefix(namespace, "handback-"), ssh.FingerprintSHA256(sig.PublicKey))
	}
	return sig.PublicKey, nil
}

// UsableKey says why a key does not sign here, nil when it does.
func UsableKey(key ssh.PublicKey) error {
	if !slices.Contains(keyTypes, key.Type()) {
		return fmt.Errorf("a key of type %s does not sign here; accepted are %s", key.Type(), strings.Join(keyTypes, ", "))
	}
	if k, ok := key.(ssh.CryptoPublicKey); ok {
		if r, ok := k.CryptoPublicKey().(*rsa.PublicKey); ok && r.N.BitLen() < minRSABits {
			return fmt.Errorf("an RSA key of %d bits does not sign here; %d at least are wanted", r.N.BitLen(), minRSABits)
		}
	}
	return nil
}

// ParseKey reads a line of a public key file, "TYPE BASE64 [COMMENT]".
func ParseKey(line string) (key ssh.PublicKey, comment string, err error) {
	words := strings.Fields(line)
	if len(words) < 2 {
		return nil, "", errors.New("a public key line is wanted, such as ssh-ed25519 AAAA…")
	}
	key, _, _, rest, err := ssh.ParseAuthorizedKey([]byte(words[0] + " " + words[1]))
	if err != nil || len(rest) > 0 || key.Type() != words[0] {
		return nil, "", fmt.Errorf("%.40q begins no public key line that can be read: copy it again, in one piece", line)
	}
	return key, strings.Join(words[2:], " "), nil
}

// KeyLine is the line of a public key without a comment.
func KeyLine(key ssh.PublicKey) string {
	return strings.TrimSpace(string(ssh.MarshalAuthorizedKey(key)))
}

// NewKeyFile is the OpenSSH private key file of the Ed25519 key that a seed of 32
// random bytes gives, and its public key. Words that are not empty protect the file:
// without them nobody signs with it.
func NewKeyFile(seed []byte, comment string, words []byte) (file []byte, public ssh.PublicKey, err error) {
	if len(seed) != ed25519.SeedSize {
		return nil, nil, fmt.Errorf("key: %d random bytes, %d are wanted", len(seed), ed25519.SeedSize)
	}
	key := ed25519.NewKeyFromSeed(seed)
	if public, err = ssh.NewPublicKey(key.Public()); err != nil {
		return nil, nil, fmt.Errorf("key: %w", err)
	}
	var block *pem.Block
	if len(words) > 0 {
		block, err = ssh.MarshalPrivateKeyWithPassphrase(key, comment, words)
	} else {
		block, err = ssh.MarshalPrivateKey(key, comment)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("key: %w", err)
	}
	return pem.EncodeToMemory(block), public, nil
}

// Fingerprint is the short name of a key, "SHA256:…" as ssh-keygen -l prints it.
func Fingerprint(key ssh.PublicKey) string { return ssh.FingerprintSHA256(key) }
