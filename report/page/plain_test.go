package page

import (
	"bytes"
	"testing"

	"pgregory.net/rapid"

	"handback/report"
)

// What is written bit by bit comes out as if it had been made plain as a whole.
func TestPlainLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		line := rapid.SampledFrom([]string{"a", "\r", "\n", "\r\n", "\u2028", "\x00", "\xff", "\xe2\x84", "Ω", string(bytes.Repeat([]byte("x"), enough/3))})
		text, out := []byte{}, bytes.Buffer{}
		p := &plainLines{to: &out}
		for _, part := range rapid.SliceOfN(rapid.SliceOfN(line, 0, 6), 0, 6).Draw(t, "parts") {
			var piece []byte
			for _, s := range part {
				piece = append(piece, s...)
			}
			text = append(text, piece...)
			if n, err := p.Write(piece); n != len(piece) || err != nil {
				t.Fatal(n, err)
			}
		}
		if err := p.put(len(p.rest)); err != nil {
			t.Fatal(err)
		}
		if want := report.Plain(string(text)); out.String() != want {
			t.Fatalf("written as %.200q, as a whole it is %.200q", out.String(), want)
		}
	})
}
