package stamp

import (
	"bytes"
	"crypto"
	_ "crypto/sha256" // the hashes that tokens are made with
	_ "crypto/sha512"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/asn1"
	"errors"
	"fmt"
	"math/big"
	"slices"
	"time"
)

// MaxReply bounds a reply; one with a chain of certificates has some 10 KiB.
const MaxReply = 1 << 20

var (
	oidSHA256        = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 1}
	oidSHA384        = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 2}
	oidSHA512        = asn1.ObjectIdentifier{2, 16, 840, 1, 101, 3, 4, 2, 3}
	oidSignedData    = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 7, 2}
	oidInfo          = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 1, 4} // id-ct-TSTInfo
	oidContentType   = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 3}
	oidMessageDigest = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 4}
	oidSigner        = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 2, 12} // signingCertificate, by SHA-1
	oidSignerV2      = asn1.ObjectIdentifier{1, 2, 840, 113549, 1, 9, 16, 2, 47} // signingCertificateV2, RFC 5816
	oidExtKeyUsage   = asn1.ObjectIdentifier{2, 5, 29, 37}
)

type imprint struct {
	Algorithm pkix.AlgorithmIdentifier
	Hash      []byte
}

// Query is what an authority is asked about a SHA-256 hash: to give a token, with the
// certificate it is signed by. There is no nonce: the reply is bound to the hash, and an
// older one would only vouch for an earlier time.
func Query(hash [32]byte) ([]byte, error) {
	return asn1.Marshal(struct {
		Version     int
		Imprint     imprint
		Certificate bool
	}{1, imprint{pkix.AlgorithmIdentifier{Algorithm: oidSHA256, Parameters: asn1.NullRawValue}, hash[:]}, true})
}

// Token is a time stamp whose signature fits. Whether the authority is to be believed is
// for Trust to say.
type Token struct {
	Hash      []byte        // SHA-256, what was stamped
	At        time.Time     // as the authority's clock had it
	Within    time.Duration // how far that may be wrong, as the authority says
	Authority string        // as its certificate calls it
	Ends      time.Time     // of that certificate

	signer *x509.Certificate
	others []*x509.Certificate
}

// By is the latest time at which what was stamped was there.
func (t *Token) By() time.Time { return t.At.Add(t.Within) }

type reply struct {
	Status struct {
		Status int
		Words  []string       `asn1:"optional"`
		Fail   asn1.BitString `asn1:"optional"`
	}
	Token asn1.RawValue `asn1:"optional"`
}

type content struct {
	Type asn1.ObjectIdentifier
	Data signedData `asn1:"explicit,tag:0"`
}

type signedData struct {
	Version int
	Digests []pkix.AlgorithmIdentifier `asn1:"set"`
	Inner   struct {
		Type asn1.ObjectIdentifier
		Data []byte `asn1:"explicit,tag:0"`
	}
	Certificates asn1.RawValue `asn1:"optional,tag:0"`
	Revocations  asn1.RawValue `asn1:"optional,tag:1"`
	Signers      []signerInfo  `asn1:"set"`
}

type signerInfo struct {
	Version   int
	Who       asn1.RawValue
	Digest    pkix.AlgorithmIdentifier
	Signed    asn1.RawValue `asn1:"optional,tag:0"`
	Algorithm pkix.AlgorithmIdentifier
	Signature []byte
}

type info struct {
	Version  int
	Policy   asn1.ObjectIdentifier
	Imprint  imprint
	Serial   *big.Int
	At       time.Time `asn1:"generalized"`
	Accuracy struct {
		Seconds int `asn1:"optional"`
		Millis  int `asn1:"optional,tag:0"`
		Micros  int `asn1:"optional,tag:1"`
	} `asn1:"optional"`
}

// Parse reads the reply of an authority and checks that its signature fits: that of one
// signer, over the token as it is, by the certificate that comes with it and is named in
// what was signed (RFC 3161, section 2.4.2; RFC 5816).
//
// Errors: the authority's own refusal; what cannot be read; a token that does not fit.
func Parse(data []byte) (*Token, error) {
	if len(data) > MaxReply {
		return nil, fmt.Errorf("time stamp of %d bytes: at most %d are read", len(data), MaxReply)
	}
	var r reply
	if err := whole(data, &r, ""); err != nil {
		return nil, errors.New("time stamp: it is no reply of a time stamping authority (RFC 3161, as openssl ts -reply writes it)")
	}
	if r.Status.Status > 1 { // 0 granted, 1 granted with changes
		return nil, fmt.Errorf("time stamp: the authority refused it with status %d %q", r.Status.Status, r.Status.Words)
	}
	var c content
	if err := whole(r.Token.FullBytes, &c, ""); err != nil {
		return nil, fmt.Errorf("time stamp: the token cannot be read: %w", err)
	}
	if !c.Type.Equal(oidSignedData) || !c.Data.Inner.Type.Equal(oidInfo) || len(c.Data.Signers) != 1 {
		return nil, errors.New("time stamp: it is no token with one signer")
	}
	var i info
	if err := whole(c.Data.Inner.Data, &i, ""); err != nil {
		return nil, fmt.Errorf("time stamp: the token cannot be read: %w", err)
	}
	if i.Version != 1 || !i.Imprint.Algorithm.Algorithm.Equal(oidSHA256) || len(i.Imprint.Hash) != 32 {
		return nil, errors.New("time stamp: it is not over a SHA-256 hash")
	}
	certificates, err := x509.ParseCertificates(c.Data.Certificates.Bytes)
	if err != nil {
		return nil, fmt.Errorf("time stamp: its certificates cannot be read: %w", err)
	}
	signer, err := c.Data.Signers[0].check(c.Data.Inner.Data, certificates)
	if err != nil {
		return nil, fmt.Errorf("time stamp: %w", err)
	}
	a := i.Accuracy
	within := time.Duration(a.Seconds)*time.Second + time.Duration(a.Millis)*time.Millisecond + time.Duration(a.Micros)*time.Microsecond
	if within < 0 || within > 24*time.Hour {
		return nil, fmt.Errorf("time stamp: an accuracy of %s is none", within)
	}
	return &Token{Hash: i.Imprint.Hash, At: i.At, Within: within, Authority: signer.Subject.String(), Ends: signer.NotAfter, signer: signer, others: certificates}, nil
}

// whole reads a value with nothing after it.
func whole(data []byte, into any, params string) error {
	rest, err := asn1.UnmarshalWithParams(data, into, params)
	if err == nil && len(rest) > 0 {
		err = errors.New("bytes follow its end")
	}
	return err
}

type attribute struct {
	Type   asn1.ObjectIdentifier
	Values []asn1.RawValue `asn1:"set"`
}

// check finds the certificate of the signer and holds the signature against the token.
func (s signerInfo) check(token []byte, certificates []*x509.Certificate) (*x509.Certificate, error) {
	if len(s.Signed.FullBytes) == 0 {
		return nil, errors.New("it signs no attributes")
	}
	signed := slices.Clone(s.Signed.FullBytes)
	signed[0] = 0x31 // they are signed as a SET, and stored with a tag of their own
	var attributes []attribute
	if err := whole(signed, &attributes, "set"); err != nil {
		return nil, fmt.Errorf("what it signs cannot be read: %w", err)
	}
	var kind asn1.ObjectIdentifier
	if err := one(attributes, oidContentType, &kind); err != nil || !kind.Equal(oidInfo) {
		return nil, errors.New("what is signed is no time stamp")
	}
	digest, ok := hashes[s.Digest.Algorithm.String()]
	if !ok {
		return nil, fmt.Errorf("hash %s is not accepted", s.Digest.Algorithm)
	}
	var is []byte
	if err := one(attributes, oidMessageDigest, &is); err != nil || !bytes.Equal(is, sum(digest, token)) {
		return nil, errors.New("its signature is over another token")
	}
	signer, err := named(attributes, certificates)
	if err != nil {
		return nil, err
	}
	algorithm, err := s.algorithm(digest)
	if err != nil {
		return nil, err
	}
	if err := signer.CheckSignature(algorithm, signed, s.Signature); err != nil {
		return nil, fmt.Errorf("the signature does not fit: %w", err)
	}
	return signer, nil
}

var hashes = map[string]crypto.Hash{oidSHA256.String(): crypto.SHA256, oidSHA384.String(): crypto.SHA384, oidSHA512.String(): crypto.SHA512}

func sum(h crypto.Hash, data []byte) []byte {
	w := h.New()
	w.Write(data)
	return w.Sum(nil)
}

// one reads the attribute of a type, which must stand once, with one value.
func one(all []attribute, kind asn1.ObjectIdentifier, into any) error {
	var found []asn1.RawValue
	for _, a := range all {
		if a.Type.Equal(kind) {
			found = append(found, a.Values...)
		}
	}
	if len(found) != 1 {
		return fmt.Errorf("attribute %s stands %d times", kind, len(found))
	}
	return whole(found[0].FullBytes, into, "")
}
