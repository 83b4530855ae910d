package rig

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"testing"
)

// A grey ramp with some colour, so that packing it wrongly shows.
func Ramp() image.Image {
	m := image.NewRGBA(image.Rect(0, 0, 40, 24))
	for y := range 24 {
		for x := range 40 {
			m.Set(x, y, color.RGBA{uint8(x * 6), uint8(y * 10), 80, 255})
		}
	}
	return m
}

// Place is what a photograph says of where it was taken.
const Place = "51.4779N 0.0015W of the invented station"

// Segment is a segment of a JPEG.
func Segment(marker byte, data string) []byte {
	return append([]byte{0xff, marker, byte((len(data) + 2) >> 8), byte(len(data) + 2)}, data...)
}

// Exif is the metadata of a telephone: how to turn the picture, and where it was taken.
func Exif(turn byte) []byte {
	return Segment(0xe1, "Exif\x00\x00II*\x00\x08\x00\x00\x00\x02\x00"+
		"\x12\x01\x03\x00\x01\x00\x00\x00"+string(turn)+"\x00\x00\x00"+"\x25\x88\x04\x00\x01\x00\x00\x00\x26\x00\x00\x00"+"\x00\x00\x00\x00"+Place)
}

// JpegWith is a JPEG with further parts behind its start.
func JpegWith(t testing.TB, parts ...[]byte) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, Ramp(), nil); err != nil {
		t.Fatal(err)
	}
	out := append([]byte{}, b.Bytes()[:2]...)
	for _, p := range parts {
		out = append(out, p...)
	}
	return append(out, b.Bytes()[2:]...)
}
