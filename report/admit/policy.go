package admit

import (
	"fmt"
	"time"

	"handback/records/archive"
	"handback/records/chain"
	"handback/records/stamp"
	"handback/report/trust"
)

// Policy is what is asked of a bag.
type Policy struct {
	Number  int // 0 where nothing is asked
	trust   trust.Policy
	signers chain.Signers // nil for the keys that each plan lists
}

// Names of the parts of a policy beside the policy itself.
const (
	partSigners = "allowed_signers"
	partRevoked = "revoked_keys"
	partStamps  = "tsa_ca"
)

// Gather reads a policy file with the files that it names, which read gives by the names
// in it. What is read is a policy, or the error tells why not.
func Gather(name string, read func(name string) ([]byte, error)) ([]archive.Part, error) {
	body, err := read(name)
	if err != nil {
		return nil, err
	}
	f, err := trust.ParseFile(body)
	if err != nil {
		return nil, err
	}
	parts := []archive.Part{{Part: archive.PartPolicy, Name: name, Body: body}}
	for _, x := range [][2]string{{partSigners, f.AllowedSigners}, {partRevoked, f.RevokedKeys}, {partStamps, f.StampCA}} {
		if x[1] == "" {
			continue
		}
		if body, err = read(x[1]); err != nil {
			return nil, err
		}
		parts = append(parts, archive.Part{Part: x[0], Name: x[1], Body: body})
	}
	_, err = NewPolicy(parts, 1)
	return parts, err
}

// NewPolicy makes a policy of its parts. Times in a list of keys that name no zone are UTC,
// so that a policy means the same wherever the archive is read.
func NewPolicy(parts []archive.Part, number int) (p Policy, err error) {
	p.Number = number
	for _, part := range parts {
		switch part.Part {
		case archive.PartPolicy:
			var f trust.File
			if f, err = trust.ParseFile(part.Body); err == nil {
				var asked trust.Policy
				asked, err = f.Policy()
				asked.Bound, asked.Lost, asked.Stamps = p.trust.Bound, p.trust.Lost, p.trust.Stamps
				p.trust = asked
			}
		case partSigners:
			p.trust.Bound = true
			if p.signers, err = chain.ParseSigners(part.Body, time.UTC); p.signers == nil {
				p.signers = chain.Signers{} // an empty list trusts nobody: it does not stand for the plan's
			}
		case partRevoked:
			p.trust.Lost, err = chain.ParseRevoked(part.Body)
		case partStamps:
			var believed stamp.Authorities
			believed, err = stamp.ParseAuthorities(part.Body)
			p.trust.Stamps = &believed
		default:
			err = fmt.Errorf("it is of no kind that is known: %.40q", part.Part)
		}
		if err != nil {
			return Policy{}, fmt.Errorf("%s: %w", part.Name, err)
		}
	}
	return p, nil
}
