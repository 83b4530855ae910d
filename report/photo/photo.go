// Package photo takes everything out of a photograph that its pixels do not need: the place,
// the camera, thumbnails and whatever else came along.
package photo

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	_ "image/jpeg" // what DecodeConfig reads
	_ "image/png"
	"slices"

	"handback/records/chain"
)

// Picture is a photograph as a handover may show it: the very pixels that were
// attached, without the place, the camera, the thumbnails and whatever else came along.
type Picture struct {
	Type          string // chain.TypeJPEG or chain.TypePNG
	Content       []byte
	Width, Height int // pixels as stored; a viewer may turn them
}

// maxPixels bounds what a viewer is asked to unpack, 200 million: twice the largest
// camera of a telephone.
const maxPixels = 200e6

// Bare takes everything out of a JPEG (ITU-T T.81, annex B) or PNG (W3C PNG, section
// 5) that the pixels do not need: Exif with its place, XMP, IPTC, comments, previews,
// text, time, and what stands after the end. How the picture is to be turned and its
// colours are kept. The pixels are not packed anew.
//
// Errors: another type; a file whose parts cannot be told apart, which may hide anything.
func Bare(content []byte) (Picture, error) {
	p := Picture{Type: chain.MediaType(content)}
	var err error
	switch p.Type {
	case chain.TypeJPEG:
		p.Content, err = bareJPEG(content)
	case chain.TypePNG:
		p.Content, err = barePNG(content)
	default:
		err = fmt.Errorf("it is %s; pictures are %s and %s", p.Type, chain.TypeJPEG, chain.TypePNG)
	}
	if err != nil {
		return Picture{}, err
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(p.Content))
	if err != nil {
		return Picture{}, fmt.Errorf("its size cannot be read: %w", err)
	}
	p.Width, p.Height = size.Width, size.Height
	if float64(p.Width)*float64(p.Height) > maxPixels {
		return Picture{}, fmt.Errorf("it has %d by %d pixels; at most %.0f together are shown", p.Width, p.Height, maxPixels)
	}
	return p, nil
}

// Markers of a JPEG.
const (
	jpegEnd      = 0xd9
	jpegScan     = 0xda
	jpegAppFirst = 0xe0
	jpegExif     = 0xe1
	jpegColours  = 0xe2
	jpegAdobe    = 0xee
	jpegAppLast  = 0xef
	jpegComment  = 0xfe
)

var errCutJPEG = errors.New("the JPEG ends before its end marker")

func bareJPEG(b []byte) ([]byte, error) {
	out := []byte{0xff, 0xd8}
	for i := 2; ; {
		if i+2 > len(b) {
			return nil, errCutJPEG
		}
		if b[i] != 0xff {
			return nil, fmt.Errorf("byte %d of the JPEG is no marker", i)
		}
		marker := b[i+1]
		if marker == 0xff { // filling
			i++
			continue
		}
		if marker == jpegEnd {
			return append(out, 0xff, jpegEnd), nil
		}
		if i+4 > len(b) {
			return nil, errCutJPEG
		}
		end := i + 2 + int(binary.BigEndian.Uint16(b[i+2:]))
		if end < i+4 || end > len(b) {
			return nil, fmt.Errorf("byte %d of the JPEG: segment %#x has no true length", i, marker)
		}
		if marker == jpegScan {
			end = scanEnd(b, end)
		}
		out = append(out, bareSegment(b[i:end], marker)...)
		i = end
	}
}

// bareSegment is what stays of one segment, nil for nothing.
func bareSegment(segment []byte, marker byte) []byte {
	data := segment[4:]
	switch {
	case marker == jpegExif && bytes.HasPrefix(data, []byte("Exif\x00\x00")):
		return turned(orientation(data[6:]))
	case marker == jpegColours && bytes.HasPrefix(data, []byte("ICC_PROFILE\x00")):
		return segment
	case marker == jpegAdobe && bytes.HasPrefix(data, []byte("Adobe")) && len(data) == 12: // how the colours are meant
		return segment
	case marker == jpegAppFirst && bytes.HasPrefix(data, []byte("JFIF\x00")) && len(data) == 14: // without a thumbnail
		return segment
	case jpegAppFirst <= marker && marker <= jpegAppLast, marker == jpegComment, 0xf0 <= marker && marker <= 0xfd:
		return nil
	}
	return segment
}

// scanEnd finds the next marker after the packed pixels of a scan.
func scanEnd(b []byte, i int) int {
	for ; i+1 < len(b); i++ {
		if b[i] == 0xff && b[i+1] != 0 && b[i+1] != 0xff && !(0xd0 <= b[i+1] && b[i+1] <= 0xd7) {
			return i
		}
	}
	return len(b)
}

// orientation reads how to turn the picture from the TIFF part of Exif (CIPA DC-008,
// tag 0x0112), 1 for not at all or not said.
func orientation(tiff []byte) uint16 {
	if len(tiff) < 8 {
		return 1
	}
	var order binary.ByteOrder = binary.BigEndian
	if tiff[0] == 'I' {
		order = binary.LittleEndian
	}
	at := int64(order.Uint32(tiff[4:]))
	if at+2 > int64(len(tiff)) {
		return 1
	}
	fields := tiff[at+2:]
	for range order.Uint16(tiff[at:]) {
		if len(fields) < 12 {
			break
		}
		if order.Uint16(fields) == 0x0112 {
			if turn := order.Uint16(fields[8:]); 1 <= turn && turn <= 8 {
				return turn
			}
			break
		}
		fields = fields[12:]
	}
	return 1
}

// turned is an Exif segment that says how to turn the picture and nothing else.
func turned(turn uint16) []byte {
	if turn == 1 {
		return nil
	}
	return append([]byte("\xff\xe1\x00\x22Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01"),
		byte(turn>>8), byte(turn), 0, 0, 0, 0, 0, 0)
}

// pngKept are the chunks that the pixels and their colours need.
var pngKept = []string{"IHDR", "PLTE", "IDAT", "IEND", "tRNS", "gAMA", "cHRM", "sRGB", "iCCP", "sBIT", "cICP", "pHYs"}

func barePNG(b []byte) ([]byte, error) {
	const signature = 8
	out := slices.Clone(b[:signature])
	for i := signature; ; {
		if i+12 > len(b) {
			return nil, errors.New("the PNG ends before its end chunk")
		}
		n := int64(binary.BigEndian.Uint32(b[i:]))
		end := int64(i) + 12 + n
		if end > int64(len(b)) {
			return nil, fmt.Errorf("byte %d of the PNG: a chunk of %d bytes does not fit in", i, n)
		}
		name := string(b[i+4 : i+8])
		if crc32.ChecksumIEEE(b[i+4:end-4]) != binary.BigEndian.Uint32(b[end-4:]) {
			return nil, fmt.Errorf("byte %d of the PNG: chunk %q does not match its check sum", i, name)
		}
		if slices.Contains(pngKept, name) {
			out = append(out, b[i:end]...)
		} else if name[0]&0x20 == 0 {
			return nil, fmt.Errorf("byte %d of the PNG: chunk %q is needed and not known here", i, name)
		}
		if name == "IEND" {
			return out, nil
		}
		i = int(end)
	}
}
