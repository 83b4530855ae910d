package report

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"handback/records"
	"handback/testdata/outside"
)

// A grey ramp with some colour, so that packing it wrongly shows.
func ramp() image.Image {
	m := image.NewRGBA(image.Rect(0, 0, 40, 24))
	for y := range 24 {
		for x := range 40 {
			m.Set(x, y, color.RGBA{uint8(x * 6), uint8(y * 10), 80, 255})
		}
	}
	return m
}

const place = "51.4779N 0.0015W of the invented station"

func segment(marker byte, data string) []byte {
	return append([]byte{0xff, marker, byte((len(data) + 2) >> 8), byte(len(data) + 2)}, data...)
}

// exif is the metadata of a telephone: how to turn the picture, and where it was taken.
func exif(turn byte) []byte {
	return segment(0xe1, "Exif\x00\x00II*\x00\x08\x00\x00\x00\x02\x00"+
		"\x12\x01\x03\x00\x01\x00\x00\x00"+string(turn)+"\x00\x00\x00"+"\x25\x88\x04\x00\x01\x00\x00\x00\x26\x00\x00\x00"+"\x00\x00\x00\x00"+place)
}

func jpegWith(t testing.TB, parts ...[]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, ramp(), nil); err != nil {
		t.Fatal(err)
	}
	out := append([]byte{}, b.Bytes()[:2]...)
	for _, p := range parts {
		out = append(out, p...)
	}
	return append(out, b.Bytes()[2:]...)
}

func chunk(name, data string) []byte {
	b := binary.BigEndian.AppendUint32(nil, uint32(len(data)))
	b = append(append(b, name...), data...)
	return binary.BigEndian.AppendUint32(b, crc32.ChecksumIEEE(b[4:]))
}

func pngWith(t testing.TB, parts ...[]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, ramp()); err != nil {
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
		"exif":     jpegWith(t, exif(1)),
		"turned":   jpegWith(t, exif(6)),
		"xmp":      jpegWith(t, segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00"+place)),
		"iptc":     jpegWith(t, segment(0xed, "Photoshop 3.0\x00"+place)),
		"comment":  jpegWith(t, segment(0xfe, place)),
		"preview":  jpegWith(t, segment(0xe2, "MPF\x00"+place)),
		"thumb":    jpegWith(t, segment(0xe0, "JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x01\x01"+place)),
		"maker":    jpegWith(t, segment(0xeb, place), exif(1), segment(0xe3, place)),
		"trailing": append(jpegWith(t), place...),
		"second":   append(jpegWith(t), jpegWith(t, exif(1))...),
		"filling":  jpegWith(t, []byte{0xff, 0xff}, segment(0xfe, place)),
		"png text": pngWith(t, chunk("tEXt", "Comment\x00"+place), chunk("eXIf", place), chunk("iTXt", place), chunk("tIME", "\x07\xea\x01\x01\x00\x00\x00")),
		"png end":  append(pngWith(t), place...),
	} {
		p, err := Bare(content)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if bytes.Contains(p.Content, []byte(place)) || bytes.Contains(p.Content, []byte(place[:7])) {
			t.Errorf("%s: the place is still in it", name)
		}
		if p.Width != 40 || p.Height != 24 || p.Type != records.MediaType(content) {
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
		if again, err := Bare(p.Content); err != nil || !bytes.Equal(again.Content, p.Content) {
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
		p, err := Bare(jpegWith(t, exif(turn)))
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
		p, err := Bare(jpegWith(t, segment(0xe1, "Exif\x00\x00"+tiff)))
		if err != nil || bytes.Contains(p.Content, []byte("Exif")) {
			t.Errorf("%s: it is turned, %v", name, err)
		}
	}
}

func TestBare_refused(t *testing.T) {
	good, pngGood := jpegWith(t), pngWith(t)
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
		if _, err := Bare(c.content); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %q", name, err, c.want)
		}
	}
}

func segmentThen(marker byte, data string, stray byte) []byte {
	return append(segment(marker, data), stray, stray, stray, stray)
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
	for name, content := range map[string][]byte{"jpeg": jpegWith(t, exif(6), segment(0xfe, place)), "png": pngWith(t, chunk("tEXt", "Comment\x00"+place))} {
		if !strings.Contains(read(content), "omment") {
			t.Fatalf("%s: the tool does not find what is in the original", name)
		}
		p, err := Bare(content)
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
	f.Add(jpegWith(f, exif(6), segment(0xfe, place)))
	f.Add(pngWith(f, chunk("tEXt", "Comment\x00"+place)))
	f.Add([]byte("\xff\xd8\xff\xda\x00\x02\xff\xd9"))
	f.Fuzz(func(t *testing.T, content []byte) {
		p, err := Bare(content)
		if err != nil {
			return
		}
		again, err := Bare(p.Content)
		if err != nil || !bytes.Equal(again.Content, p.Content) {
			t.Errorf("again: %v", err)
		}
		if len(p.Content) > len(content)+64 {
			t.Errorf("%d bytes came out of %d", len(p.Content), len(content))
		}
	})
}
