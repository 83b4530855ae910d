package form

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"sync"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// Labels are fixed labels in another language. Where there is none, the English label
// stands.
type Labels struct {
	Language string // tag of BCP 47, such as de
	words    map[string]string
}

// MaxLabels bounds a file of labels (our choice).
const MaxLabels = 256 << 10

const mostLabel = 2000 // characters of a label

var languageTag = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^[a-z]{2,3}(-[A-Za-z0-9]{2,8})*$`) })

// ReadLabels reads a file of labels:
//
//	language: de
//	labels:
//	  site: Standort
//	  "%s, attempt %d": "%s, Versuch %d"
//
// A label keeps the places of its English one (%s, %d) in their order. The error names
// the line.
func ReadLabels(data []byte) (*Labels, error) {
	if len(data) > MaxLabels {
		return nil, fmt.Errorf("labels of %d bytes: at most %d KiB are read", len(data), MaxLabels>>10)
	}
	var file struct {
		Language string    `yaml:"language"`
		Labels   yaml.Node `yaml:"labels"`
	}
	dec := yaml.NewDecoder(strings.NewReader(string(data)))
	dec.KnownFields(true)
	if err := dec.Decode(&file); err != nil {
		return nil, fmt.Errorf("labels: %s", strings.TrimPrefix(err.Error(), "yaml: "))
	}
	if err := dec.Decode(new(yaml.Node)); !errors.Is(err, io.EOF) {
		return nil, errors.New("labels: a second document begins: a file holds one")
	}
	if !languageTag().MatchString(file.Language) {
		return nil, fmt.Errorf("labels: language %.40q: a tag is wanted, such as de or pt-BR", file.Language)
	}
	if file.Labels.Kind != yaml.MappingNode || len(file.Labels.Content) == 0 {
		return nil, errors.New("labels: none stand under labels: english: other")
	}
	l := &Labels{file.Language, map[string]string{}}
	for i := 0; i+1 < len(file.Labels.Content); i += 2 {
		english, own := file.Labels.Content[i], file.Labels.Content[i+1]
		if err := mayStandFor(english, own); err != nil {
			return nil, fmt.Errorf("labels: line %d: %w", own.Line, err)
		}
		if _, twice := l.words[english.Value]; twice {
			return nil, fmt.Errorf("labels: line %d: %.80q is given twice", own.Line, english.Value)
		}
		l.words[english.Value] = own.Value
	}
	return l, nil
}

// places are where values go in a label.
var places = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`%(\[\d+\])?-?\d*[sdv]`) })

// mayStandFor refuses a label that could do more than be read, or loses a value.
func mayStandFor(english, own *yaml.Node) error {
	switch {
	case english.Kind != yaml.ScalarNode || own.Kind != yaml.ScalarNode:
		return errors.New("a label for a label is wanted, such as site: Standort")
	case strings.TrimSpace(own.Value) == "":
		return fmt.Errorf("no label is given for %.80q", english.Value)
	case len([]rune(own.Value)) > mostLabel:
		return fmt.Errorf("%.80q: a label has at most %d characters", own.Value, mostLabel)
	}
	for _, r := range own.Value {
		if strings.ContainsRune("<>{}\"\\`&", r) || unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp) && r != '\u200c' && r != '\u200d' {
			return fmt.Errorf("%.80q holds %q: a label is plain words, without < > { } & \" \\ or signs that do not show", own.Value, r)
		}
	}
	if want, is := places().FindAllString(english.Value, -1), places().FindAllString(own.Value, -1); !slices.Equal(want, is) {
		return fmt.Errorf("%.80q has the places %q, its label %.80q has %q", english.Value, want, own.Value, is)
	}
	if len(places().FindAllString(english.Value, 1)) > 0 && strings.Count(places().ReplaceAllString(own.Value, ""), "%") > strings.Count(places().ReplaceAllString(english.Value, ""), "%") {
		return fmt.Errorf("%.80q has a %% that is no place", own.Value)
	}
	return nil
}

// Of is a label as it is shown.
func (l *Labels) Of(english string) string {
	if l == nil {
		return english
	}
	if own, ok := l.words[english]; ok {
		return own
	}
	if english == "en" { // what a page says of its language
		return l.Language
	}
	return english
}

// Tag is the language of the labels.
func (l *Labels) Tag() string {
	if l == nil {
		return "en"
	}
	return l.Language
}

// English lists the labels that have one in the other language, sorted.
func (l *Labels) English() []string { return slices.Sorted(maps.Keys(l.words)) }
