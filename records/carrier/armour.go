package carrier

import (
	"bytes"
	"compress/zlib"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"strings"
)

// The lines around an armoured carrier. Mail puts "> " before lines that begin with
// "From" and keeps those that begin with a dash or a letter.
const (
	begins = "-----BEGIN HANDBACK CARRIER-----"
	ends   = "-----END HANDBACK CARRIER-----"
	width  = 76 // signs a line, as RFC 2045 (MIME) has it for base64
)

// Armour puts an encoded carrier into lines of at most 76 signs: compressed (RFC 1950),
// in base64, with the SHA-256 of the base64 signs as its last line.
func Armour(data []byte) ([]byte, error) {
	var packed bytes.Buffer
	z := zlib.NewWriter(&packed)
	if _, err := z.Write(data); err != nil {
		return nil, err
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	text := base64.StdEncoding.EncodeToString(packed.Bytes())
	var out strings.Builder
	out.WriteString(begins + "\n")
	for at := 0; at < len(text); at += width {
		out.WriteString(text[at:min(at+width, len(text))] + "\n")
	}
	out.WriteString("sha256:" + digest(text) + "\n" + ends + "\n")
	return []byte(out.String()), nil
}

func digest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

func armoured(data []byte) bool { return bytes.Contains(data, []byte(begins)) }

// unarmour finds the armoured carrier in a text, with whatever mail did to its lines:
// other line ends, blanks at the end of lines or before them, quoting, words around it.
func unarmour(data []byte) ([]byte, error) {
	var text strings.Builder
	sum, inside, ended := "", false, false
	for line := range strings.Lines(string(data)) {
		line = strings.TrimLeft(strings.TrimSpace(line), "\ufeff> \t") // some editors put a mark of the byte order first
		switch {
		case line == begins && (inside || ended):
			return nil, errors.New("carrier: two stand in this text; put each into a file of its own")
		case line == begins:
			inside = true
		case line == ends && inside:
			inside, ended = false, true
		case inside && len(sum)+len(line) > len(digest("")) && sum != "":
			return nil, errors.New("carrier: something stands behind its checksum")
		case inside && (sum != "" || strings.HasPrefix(line, "sha256:")):
			sum += strings.TrimPrefix(line, "sha256:") // wrapped, it goes on in the next line
		case inside:
			text.WriteString(line)
		}
	}
	switch {
	case !ended:
		return nil, errors.New("carrier: its last line is missing: the text was cut off")
	case digest(text.String()) != sum:
		return nil, errors.New("carrier: its checksum does not fit: the text was cut off or changed on its way; ask for it again")
	}
	packed, err := base64.StdEncoding.Strict().DecodeString(text.String())
	if err != nil {
		return nil, fmt.Errorf("carrier: %w", err)
	}
	z, err := zlib.NewReader(bytes.NewReader(packed))
	if err != nil {
		return nil, fmt.Errorf("carrier: %w", err)
	}
	out, err := io.ReadAll(io.LimitReader(z, MaxBytes+1)) // it may unpack to anything
	if err == nil && len(out) > MaxBytes {
		err = fmt.Errorf("it unpacks to more than %d bytes", MaxBytes)
	}
	if err != nil {
		return nil, fmt.Errorf("carrier: %w", err)
	}
	return out, nil
}
