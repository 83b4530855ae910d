package photo_test

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"handback/records/chain"
	"handback/report/photo"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

func chunk(name, data string) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, name...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

func pngWith(t testing.TB, parts ...[]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, rig.Ramp()); err != nil {
		t.Fatal(err)
	}
	const header = 8 + 25
	out := append([]byte{}, b.Bytes()[:header]...)
	for _, p := range parts {
		out = append(out, p...)
	}
	return append(out, b.Bytes()[header:]...)
}

// The place is gone, the pixels are the same to the last bit.
func TestBare(t *testing.T) {
	for name, content := range map[string][]byte{
		"exif":     rig.JpegWith(t, rig.Exif(1)),
		"turned":   rig.JpegWith(t, rig.Exif(6)),
		"xmp":      rig.JpegWith(t, rig.Segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00"+rig.Place)),
		"iptc":     rig.JpegWith(t, rig.Segment(0xed, "Photoshop 3.0\x00"+rig.Place)),
		"comment":  rig.JpegWith(t, rig.Segment(0xfe, rig.Place)),
		"preview":  rig.JpegWith(t, rig.Segment(0xe2, "MPF\x00"+rig.Place)),
		"thumb":    rig.JpegWith(t, rig.Segment(0xe0, "JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x01\x01"+rig.Place)),
		"maker":    rig.JpegWith(t, rig.Segment(0xeb, rig.Place), rig.Exif(1), rig.Segment(0xe3, rig.Place)),
		"trailing": append(rig.JpegWith(t), rig.Place...),
		"second":   append(rig.JpegWith(t), rig.JpegWith(t, rig.Exif(1))...),
		"filling":  rig.JpegWith(t, []byte{0xff, 0xff}, rig.Segment(0xfe, rig.Place)),
		"png text": pngWith(t, chunk("tEXt", "Comment\x00"+rig.Place), chunk("eXIf", rig.Place), chunk("iTXt", rig.Place), chunk("tIME", "\x07\xea\x01\x01\x00\x00\x00")),
		"png end":  append(pngWith(t), rig.Place...),
	} {
		p, err := photo.Bare(content)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if bytes.Contains(p.Content, []byte(rig.Place)) || bytes.Contains(p.Content, []byte(rig.Place[:7])) {
			t.Errorf("%s: the place is still in it", name)
		}
		if p.Width != 40 || p.Height != 24 || p.Type != chain.MediaType(content) {
			t.Errorf("%s: %s, %d by %d", name, p.Type, p.Width, p.Height)
		}
		want, _, err := image.Decode(bytes.NewReader(content))
		if err != nil {
			t.Fatal(err)
		}
		got, _, err := image.Decode(bytes.NewReader(p.Content))
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		for y := range 24 {
			for x := range 40 {
				if want.At(x, y) != got.At(x, y) {
					t.Fatalf("%s: pixel %d, %d is %v, was %v", name, x, y, got.At(x, y), want.At(x, y))
				}
			}
		}
		if again, err := photo.Bare(p.Content); err != nil || !bytes.Equal(again.Content, p.Content) {
			t.Errorf("%s: taking it out again gives something else, %v", name, err)
		}
		if turn := bytes.Contains(p.Content, []byte("Exif")); turn != (name == "turned") {
			t.Errorf("%s: says how to turn it: %v", name, turn)
		}
	}
}

// What is kept of the metadata is how to turn the picture: all eight ways.
func TestBare_turned(t *testing.T) {
	for turn := byte(2); turn <= 8; turn++ {
		p, err := photo.Bare(rig.JpegWith(t, rig.Exif(turn)))
		if err != nil {
			t.Fatal(err)
		}
		at := bytes.Index(p.Content, []byte("Exif\x00\x00"))
		const value = 6 + 18 // of the one tag, behind the heads of Exif and TIFF (CIPA DC-008)
		if at < 0 || binary.BigEndian.Uint16(p.Content[at+value:]) != uint16(turn) {
			t.Errorf("turn %d is lost", turn)
		}
	}
	for name, tiff := range map[string]string{"short": "MM", "far": "MM\x00*\xff\xff\xff\xff", "no fields": "MM\x00*\x00\x00\x00\x08\xff\xff", "nine": "MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x09\x00\x00"} {
		p, err := photo.Bare(rig.JpegWith(t, rig.Segment(0xe1, "Exif\x00\x00"+tiff)))
		if err != nil || bytes.Contains(p.Content, []byte("Exif")) {
			t.Errorf("%s: it is turned, %v", name, err)
		}
	}
}

func TestBare_refused(t *testing.T) {
	good, pngGood := rig.JpegWith(t), pngWith(t)
	flipped := bytes.Clone(pngGood)
	flipped[40] ^= 1
	for name, c := range map[string]struct {
		content []byte
		want    string
	}{
		"text":          {[]byte("text"), "it is text/plain"},
		"jpeg cut":      {good[:len(good)-2], "ends before its end marker"},
		"jpeg start":    {good[:3], "ends before"},
		"jpeg length":   {append(append([]byte{}, good[:2]...), 0xff, 0xe1, 0xff, 0xff), "no true length"},
		"jpeg zero":     {append(append([]byte{}, good[:2]...), 0xff, 0xe1, 0, 0), "no true length"},
		"jpeg no image": {[]byte("\xff\xd8\xff\xd9"), "its size cannot be read"},
		"jpeg stray":    {append(append([]byte{}, good[:2]...), segmentThen(0xfe, "x", 'y')...), "is no marker"},
		"png cut":       {pngGood[:len(pngGood)-4], "ends before its end chunk"},
		"png length":    {append(append([]byte{}, pngGood[:8]...), "\xff\xff\xff\xffIDAT\x00\x00\x00\x00"...), "does not fit in"},
		"png changed":   {flipped, "check sum"},
		"png unknown":   {pngWith(t, chunk("ABCD", "x")), "not known here"},
		"huge":          {append(append(append([]byte{}, pngGood[:8]...), chunk("IHDR", "\x00\x01\x00\x00\x00\x01\x00\x00\x08\x02\x00\x00\x00")...), chunk("IEND", "")...), "at most"},
	} {
		if _, err := photo.Bare(c.content); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}

func segmentThen(marker byte, data string, stray byte) []byte {
	return append(rig.Segment(marker, data), stray, stray, stray, stray)
}

// ExifTool, which knows the metadata of most cameras, finds no
// metadata left but how to turn the picture.
func TestBare_outside(t *testing.T) {
	tool := outside.Tool(t, "exiftool")
	read := func(content []byte) string {
		path := filepath.Join(t.TempDir(), "p")
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-G0", "-s", path).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		return string(out)
	}
	for name, content := range map[string][]byte{"jpeg": rig.JpegWith(t, rig.Exif(6), rig.Segment(0xfe, rig.Place)), "png": pngWith(t, chunk("tEXt", "Comment\x00"+rig.Place))} {
		if !strings.Contains(read(content), "omment") {
			t.Fatalf("%s: the tool does not find what is in the original", name)
		}
		p, err := photo.Bare(content)
		if err != nil {
			t.Fatal(err)
		}
		got := read(p.Content)
		for _, tag := range []string{"omment", "GPS", "XMP", "IPTC", "Thumbnail", "Warning"} {
			if strings.Contains(got, tag) {
				t.Errorf("%s: %s is left:\n%s", name, tag, got)
			}
		}
		if name == "jpeg" && !strings.Contains(got, "Orientation") {
			t.Errorf("how to turn it is lost:\n%s", got)
		}
	}
}

// Whatever is taken for a picture comes out without its metadata, and the same again.
func FuzzBare(f *testing.F) {
	f.Add(rig.JpegWith(f, rig.Exif(6), rig.Segment(0xfe, rig.Place)))
	f.Add(pngWith(f, chunk("tEXt", "Comment\x00"+rig.Place)))
	f.Add([]byte("\xff\xd8\xff\xda\x00\x02\xff\xd9"))
	f.Fuzz(func(t *testing.T, content []byte) {
		p, err := photo.Bare(content)
		if err != nil {
			return
		}
		again, err := photo.Bare(p.Content)
		if err != nil || !bytes.Equal(again.Content, p.Content) {
			t.Errorf("again: %v", err)
		}
		if len(p.Content) > len(content)+64 {
			t.Errorf("%d bytes came out of %d", len(p.Content), len(content))
		}
	})
}
