package form_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"strings"
	"testing"

	"handback/report/form"
)

func picture(t *testing.T, wide, high int) []byte {
	t.Helper()
	m := image.NewGray(image.Rect(0, 0, wide, high))
	m.Set(wide/2, high/2, color.White)
	var out bytes.Buffer
	if err := png.Encode(&out, m); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestReadLogo(t *testing.T) {
	logo, err := form.ReadLogo(picture(t, 300, 80))
	if err != nil || logo.Width != 300 || logo.Height != 80 {
		t.Errorf("a PNG of 300 by 80: %v, %v", logo, err)
	}
	cut := picture(t, 300, 80)
	for name, c := range map[string]struct {
		content []byte
		says    string
	}{
		"svg":       {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"></svg>`), "SVG"},
		"svg, xml":  {[]byte("<?xml version=\"1.0\"?>\n<!-- drawn -->\n<svg></svg>"), "SVG"},
		"jpeg":      {[]byte("\xff\xd8\xff\xe0 and so on"), "no PNG"},
		"nothing":   {nil, "no PNG"},
		"cut":       {cut[:len(cut)/2], ""},
		"too wide":  {picture(t, 2001, 4), "2001 by 4 pixels"},
		"too large": {append(picture(t, 30, 8), make([]byte, form.MaxLogo)...), "at most 512 KiB"},
	} {
		if _, err := form.ReadLogo(c.content); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", name, err, c.says)
		}
	}
}

func TestReadLabels(t *testing.T) {
	l, err := form.ReadLabels([]byte("language: de\nlabels:\n  site: Standort\n  \"%s, attempt %d: %s\": \"%s, Versuch %d: %s\"\n"))
	if err != nil {
		t.Fatal(err)
	}
	for english, want := range map[string]string{"site": "Standort", "%s, attempt %d: %s": "%s, Versuch %d: %s", "none": "none", "en": "de"} {
		if got := l.Of(english); got != want {
			t.Errorf("%q is %q, want %q", english, got, want)
		}
	}
	var none *form.Labels
	if none.Of("site") != "site" || none.Of("en") != "en" {
		t.Error("without a file labels are not English")
	}
	for text, says := range map[string]string{
		"":                                                                  "EOF",
		"language: de\n":                                                    "none stand under labels",
		"labels: {site: Standort}\n":                                        "a tag is wanted",
		"language: de\nlabels: [site]\n":                                    "none stand under labels",
		"language: de\nother: 1\n":                                          "other",
		"language: de\nlabels: {site: }\n":                                  "no label is given",
		"language: de\nlabels: {site: [a]}\n":                               "a label for a label",
		"language: de\nlabels:\n  site: a\n  site: b\n":                     "line 4",
		"language: de\nlabels: {site: \"<b>\"}\n":                           "plain words",
		"language: de\nlabels: {site: \"{{.Job}}\"}\n":                      "plain words",
		"language: de\nlabels: {site: \"a\\u202eb\"}\n":                     "plain words",
		"language: de\nlabels: {\"entry %d\": Eintrag}\n":                   "has the places",
		"language: de\nlabels: {\"%s of %d\": \"%d von %s\"}\n":             "has the places",
		"language: de\nlabels: {\"entry %d\": \"%n Eintrag %d\"}\n":         "no place",
		"language: de\nlabels: {site: a}\n---\nlabels: {}\n":                "second document",
		"language: de\nlabels: {site: " + strings.Repeat("a", 2001) + "}\n": "at most 2000",
	} {
		if _, err := form.ReadLabels([]byte(text)); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v, want %q", text, err, says)
		}
	}
}
