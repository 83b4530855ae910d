package stamp

import (
	"bytes"
	"crypto"
	"crypto/sha1"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"encoding/pem"
	"errors"
	"fmt"
)

// named finds the certificate that the signed attributes name as the signer's: without
// that another certificate of the same key could be put beside it (RFC 5035).
func named(attributes []attribute, certificates []*x509.Certificate) (*x509.Certificate, error) {
	var now struct {
		Certificates []struct {
			Algorithm pkix.AlgorithmIdentifier `asn1:"optional"` // SHA-256 when not given
			Hash      []byte
		}
	}
	var old struct{ Certificates []struct{ Hash []byte } }
	var hash []byte
	of := func(c *x509.Certificate) []byte { return sum(crypto.SHA256, c.Raw) }
	switch {
	case one(attributes, oidSignerV2, &now) == nil && len(now.Certificates) > 0:
		first := now.Certificates[0]
		hash = first.Hash
		if name := first.Algorithm.Algorithm; len(name) > 0 {
			h, ok := hashes[name.String()]
			if !ok {
				return nil, fmt.Errorf("hash %s is not accepted", name)
			}
			of = func(c *x509.Certificate) []byte { return sum(h, c.Raw) }
		}
	case one(attributes, oidSigner, &old) == nil && len(old.Certificates) > 0:
		hash = old.Certificates[0].Hash // it only picks among certificates, each of which must lead to a trusted one
		of = func(c *x509.Certificate) []byte { s := sha1.Sum(c.Raw); return s[:] }
	default:
		return nil, errors.New("it does not name the certificate of its signer")
	}
	for _, c := range certificates {
		if bytes.Equal(of(c), hash) {
			return c, nil
		}
	}
	return nil, errors.New("the certificate of its signer does not come with it: ask for it in the query")
}

// algorithm is that of the signature; RSA is told by the hash beside it.
func (s signerInfo) algorithm(digest crypto.Hash) (x509.SignatureAlgorithm, error) {
	for _, k := range []struct {
		oid    asn1.ObjectIdentifier
		digest crypto.Hash
		is     x509.SignatureAlgorithm
	}{
		{asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 1}, crypto.SHA256, x509.SHA256WithRSA},
		{asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 1}, crypto.SHA384, x509.SHA384WithRSA},
		{asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 1}, crypto.SHA512, x509.SHA512WithRSA},
		{asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 11}, crypto.SHA256, x509.SHA256WithRSA},
		{asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 12}, crypto.SHA384, x509.SHA384WithRSA},
		{asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 1, 13}, crypto.SHA512, x509.SHA512WithRSA},
		{asn1.ObjectIdentifier{1, 2, 840, 10045, 4, 3, 2}, crypto.SHA256, x509.ECDSAWithSHA256},
		{asn1.ObjectIdentifier{1, 2, 840, 10045, 4, 3, 3}, crypto.SHA384, x509.ECDSAWithSHA384},
		{asn1.ObjectIdentifier{1, 2, 840, 10045, 4, 3, 4}, crypto.SHA512, x509.ECDSAWithSHA512},
	} {
		if k.digest == digest && k.oid.Equal(s.Algorithm.Algorithm) {
			return k.is, nil
		}
	}
	return 0, fmt.Errorf("signature algorithm %s with %s is not accepted; RSA and ECDSA with SHA-256, 384 and 512 are", s.Algorithm.Algorithm, digest)
}

// Authorities are certificates that a verifier trusts.
type Authorities struct{ roots *x509.CertPool }

// ParseAuthorities reads certificates in PEM.
func ParseAuthorities(data []byte) (Authorities, error) {
	a := Authorities{x509.NewCertPool()}
	n := 0
	for block, rest := pem.Decode(data); block != nil; block, rest = pem.Decode(rest) {
		if block.Type != "CERTIFICATE" {
			return a, fmt.Errorf("a block %.40q: certificates alone are wanted", block.Type)
		}
		c, err := x509.ParseCertificate(block.Bytes)
		if err != nil {
			return a, fmt.Errorf("certificate %d: %w", n+1, err)
		}
		a.roots.AddCert(c)
		n++
	}
	if n == 0 {
		return a, errors.New("it holds no certificate in PEM")
	}
	return a, nil
}

// Trust says why a token is not believed, nil when the certificate of its signer leads to
// one that is trusted, was valid at the time of the token, and is for time stamps alone
// (RFC 3161, section 2.3). Whether it was revoked since is not looked at: that is asked
// of the authority.
func (a Authorities) Trust(t *Token) error {
	pool := x509.NewCertPool()
	for _, c := range t.others {
		pool.AddCert(c)
	}
	critical := false
	for _, e := range t.signer.Extensions {
		critical = critical || e.Id.Equal(oidExtKeyUsage) && e.Critical
	}
	if !critical || len(t.signer.ExtKeyUsage) != 1 || len(t.signer.UnknownExtKeyUsage) > 0 || t.signer.ExtKeyUsage[0] != x509.ExtKeyUsageTimeStamping {
		return fmt.Errorf("the certificate of %s is not for time stamps alone", t.Authority)
	}
	_, err := t.signer.Verify(x509.VerifyOptions{Roots: a.roots, Intermediates: pool, CurrentTime: t.At, KeyUsages: []x509.ExtKeyUsage{x509.ExtKeyUsageTimeStamping}})
	if err != nil {
		return fmt.Errorf("the certificate of %s leads to none that you trust: %w", t.Authority, err)
	}
	return nil
}
