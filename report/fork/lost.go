package fork

import (
	"encoding/json"
	"fmt"
	"slices"

	"handback/records/chain"
)

// Lost is a finding of the other side that did not pass and does not count here, because a
// join left what it was judged from: nobody may lose sight of it by that.
type Lost struct {
	Check   string `json:"check"`
	Attempt int    `json:"attempt"` // there
	Verdict string `json:"verdict"`
	Stop    bool   `json:"stop,omitempty"`
}

// LostOf are those that a join leaves by what it decides on the entries of the other side,
// the newest of each check.
func LostOf(there []chain.Entry, made []Decision) []Lost {
	var out []Lost
	counted := map[string]bool{} // checks of which a reading counts here
	for _, d := range made {
		at := slices.IndexFunc(there, func(e chain.Entry) bool { return e.Hash == d.Hash })
		if at < 0 {
			continue
		}
		is, err := Inner(there[at])
		if err != nil {
			continue
		}
		if is.Kind == "read" && (d.Adopted > 0 || d.Code == LeftSame) {
			counted[is.Check] = true
		}
		var found struct {
			Attempt int             `json:"attempt"`
			Verdict string          `json:"verdict"`
			Stop    json.RawMessage `json:"stop"`
		}
		if is.Kind != "judge" || json.Unmarshal(is.Data, &found) != nil {
			continue
		}
		out = slices.DeleteFunc(out, func(l Lost) bool { return l.Check == is.Check })
		if found.Verdict != "pass" {
			out = append(out, Lost{is.Check, found.Attempt, found.Verdict, len(found.Stop) > 0})
		}
	}
	return slices.DeleteFunc(out, func(l Lost) bool { return counted[l.Check] })
}

// lost: a join tells of every finding that it left and that did not pass.
func lost(_ []chain.Entry, e chain.Entry, others []chain.Line) string {
	j, err := ReadJoined(e)
	if err != nil {
		return ""
	}
	there := upto(others, j.Head)
	if there == nil {
		return "" // the other side is not at hand
	}
	if want := LostOf(there, j.Entries); !slices.Equal(want, j.Lost) {
		return fmt.Sprintf("it tells of %d findings of the other side that did not pass and were left, where there are %d, or of others", len(j.Lost), len(want))
	}
	return ""
}
