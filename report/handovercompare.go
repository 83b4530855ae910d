package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// maxDataFaults is how many members that differ are told one by one.
const maxDataFaults = 20

// dataDifferences names the members in which handover data from outside differ from
// those of the record, each with its place; none when they are equal to the byte.
func dataDifferences(is, should []byte) []string {
	if bytes.Equal(is, should) {
		return nil
	}
	theirs, err := dataTree(is)
	if err != nil {
		return []string{"they are no sound JSON: " + err.Error()}
	}
	ours, err := dataTree(should)
	if err != nil {
		return []string{err.Error()}
	}
	var c dataCompare
	c.compare(nil, theirs, ours)
	switch n := len(c.differ); {
	case n == 0:
		return []string{"every member agrees, but they are not written in the form of RFC 8785"}
	case n > maxDataFaults:
		return append(c.differ[:maxDataFaults], fmt.Sprintf("and %d more members", n-maxDataFaults))
	}
	return c.differ
}

func dataTree(data []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.UseNumber() // digits as they stand
	var v any
	err := d.Decode(&v)
	if err == nil && d.More() {
		err = fmt.Errorf("more follows behind them")
	}
	return v, err
}

type dataCompare struct{ differ []string }

func (c *dataCompare) compare(place []string, is, should any) {
	switch ours := should.(type) {
	case map[string]any:
		if theirs, ok := is.(map[string]any); ok {
			both := maps.Clone(theirs)
			maps.Copy(both, ours)
			for _, key := range slices.Sorted(maps.Keys(both)) {
				c.compare(append(slices.Clip(place), key), member(theirs, key), member(ours, key))
			}
			return
		}
	case []any:
		if theirs, ok := is.([]any); ok {
			for i := range max(len(theirs), len(ours)) {
				c.compare(append(slices.Clip(place), elementName(i, theirs, ours)), element(theirs, i), element(ours, i))
			}
			return
		}
	default:
		if is == should {
			return
		}
	}
	c.differ = append(c.differ, fmt.Sprintf("%s: %s there, %s in the record", strings.Join(place, ", "), dataWords(is), dataWords(should)))
}

// absent stands for what is not there.
type absent struct{}

func member(of map[string]any, key string) any {
	if v, ok := of[key]; ok {
		return v
	}
	return absent{}
}

func element(of []any, i int) any {
	if i < len(of) {
		return of[i]
	}
	return absent{}
}

// elementName tells an element of a list by what it is about, or by its number.
func elementName(i int, lists ...[]any) string {
	for _, list := range slices.Backward(lists) {
		of, ok := element(list, i).(map[string]any)
		for _, key := range []string{"entry", "hold", "check", "attempt"} {
			if v, there := of[key]; ok && there {
				return fmt.Sprintf("%s %v", key, v)
			}
		}
	}
	return "number " + itoa(i+1)
}

func dataWords(v any) string {
	if v == (absent{}) {
		return "nothing"
	}
	text, err := json.Marshal(v)
	if err != nil {
		return "something else"
	}
	return cutRunes(plain(string(text)), 120)
}
