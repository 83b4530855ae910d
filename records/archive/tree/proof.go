package tree

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"

	"golang.org/x/crypto/ssh"
	"golang.org/x/mod/sumdb/tlog"

	"handback/records/chain"
)

const (
	proofVersion = 1
	maxProof     = 256 << 10 // bytes
)

// Proof is a file that shows something of a log to whoever has not got the log: that a
// leaf stands under a head, with Leaf and Number, or that a head continues an old one,
// with Old.
type Proof struct {
	V      int         `json:"v"`
	Leaf   string      `json:"leaf,omitempty"`
	Number int64       `json:"number,omitempty"` // of the leaf; 1 is the first
	Old    string      `json:"old,omitempty"`    // a signed head
	Path   []tlog.Hash `json:"path"`
	Head   string      `json:"head"` // a signed head
}

// ProveLeaf proves that a leaf is the number'th of the log that the signed head is of.
func ProveLeaf(signed string, key ssh.PublicKey, number int64, leaf []byte, kept tlog.HashReader) (Proof, error) {
	head, err := OpenHead(signed, key)
	if err != nil {
		return Proof{}, err
	}
	path, err := tlog.ProveRecord(head.Size, number-1, kept)
	if err != nil {
		return Proof{}, err
	}
	return proved(Proof{Leaf: string(leaf), Number: number, Path: path, Head: signed}, key)
}

// ProveSince proves that the log a signed head is of continues the one of an old head.
func ProveSince(signed, old string, key ssh.PublicKey, kept tlog.HashReader) (Proof, error) {
	head, err := OpenHead(signed, key)
	if err != nil {
		return Proof{}, err
	}
	before, err := OpenHead(old, key)
	if err != nil {
		return Proof{}, fmt.Errorf("old %w", err)
	}
	if before.Size > head.Size {
		return Proof{}, fmt.Errorf("the old head has %d leaves and this log %d: %w", before.Size, head.Size, ErrNotProved)
	}
	path, err := tlog.ProveTree(head.Size, before.Size, kept)
	if err != nil {
		return Proof{}, err
	}
	return proved(Proof{Old: old, Path: path, Head: signed}, key)
}

// proved gives a proof that holds: what the log's own hashes do not bear out is none.
func proved(p Proof, key ssh.PublicKey) (Proof, error) {
	p.V = proofVersion
	if p.Path == nil {
		p.Path = []tlog.Hash{}
	}
	_, err := p.Check(key)
	return p, err
}

// ErrNotProved says that a log is not what a head or a leaf says of it.
var ErrNotProved = errors.New("not proved")

// Shown is what a proof shows.
type Shown struct {
	Head Head
	Leaf Leaf // what stands under the head
	Old  Head // what the head continues
}

// Check holds a proof against the key of the archive.
//
// Errors: what is no proof; a head that the key did not sign; ErrNotProved.
func (p Proof) Check(key ssh.PublicKey) (Shown, error) {
	var s Shown
	var err error
	if s.Head, err = OpenHead(p.Head, key); err != nil {
		return Shown{}, err
	}
	if p.Old == "" {
		if s.Leaf, err = ParseLeaf([]byte(p.Leaf)); err != nil {
			return Shown{}, err
		}
		if err := tlog.CheckRecord(p.Path, s.Head.Size, s.Head.Root, p.Number-1, tlog.RecordHash([]byte(p.Leaf))); err != nil {
			return Shown{}, fmt.Errorf("bag %.12s… is not leaf %d under the head of %d leaves: %w", s.Leaf.Bag, p.Number, s.Head.Size, ErrNotProved)
		}
		return s, nil
	}
	if s.Old, err = OpenHead(p.Old, key); err != nil {
		return Shown{}, fmt.Errorf("old %w", err)
	}
	if s.Old.Origin != s.Head.Origin {
		return Shown{}, fmt.Errorf("the heads are of two logs, %s and %s: %w", s.Old.Origin, s.Head.Origin, ErrNotProved)
	}
	if err := tlog.CheckTree(p.Path, s.Head.Size, s.Head.Root, s.Old.Size, s.Old.Root); err != nil {
		return Shown{}, fmt.Errorf("the head of %d leaves does not continue the old one of %d: %w", s.Head.Size, s.Old.Size, ErrNotProved)
	}
	return s, nil
}

// Encode gives the proof as it is kept in a file.
func (p Proof) Encode() ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	err := e.Encode(p)
	return b.Bytes(), err
}

// ParseProof accepts only what Encode writes, so that a proof is one file to the byte. It
// does not check what the proof says.
func ParseProof(data []byte) (Proof, error) {
	if len(data) > maxProof {
		return Proof{}, fmt.Errorf("proof of %d bytes: at most %d are read", len(data), maxProof)
	}
	var p Proof
	if err := chain.DecodeStrict(data, &p); err != nil {
		return Proof{}, fmt.Errorf("proof: %w", err)
	}
	if p.V != proofVersion {
		return Proof{}, fmt.Errorf("proof: version %d, this program knows %d: %w", p.V, proofVersion, chain.ErrNewer)
	}
	if (p.Old == "") != (p.Leaf != "" && p.Number > 0) || p.Old != "" && (p.Leaf != "" || p.Number != 0) {
		return Proof{}, errors.New("proof: a leaf with its number, or an old head, is wanted")
	}
	again, err := p.Encode()
	if err == nil && !bytes.Equal(again, data) {
		err = errors.New("proof: it is written in another way than a proof is")
	}
	if err != nil {
		return Proof{}, err
	}
	return p, nil
}
