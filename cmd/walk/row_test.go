package walk

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/checks"
	"handback/cmd/session"
)

// rowsAsked are rows as checks ask them: three alike, a reading beside a choice,
// choices of two words, bounds, a single reading.
func rowsAsked() [][]checks.Field {
	volts := checks.Field{Key: "v", Label: "volts", Sort: checks.Measured, Unit: "V", Need: true, Example: "418.2"}
	torque := checks.Field{Key: "t", Label: "torque", Sort: checks.Measured, Unit: "N·m", Need: true, Example: "45"}
	ohms := checks.Field{Key: "r", Label: "insulation", Sort: checks.Measured, Unit: "MΩ", Bounds: true, Need: true, Example: "500"}
	mark := checks.Field{Key: "m", Label: "mark", Sort: checks.Choice, Options: checks.YesNo, Need: true, Example: "yes"}
	lamp := checks.Field{Key: "l", Label: "lamp", Sort: checks.Choice, Options: []string{"not live", "live"}, Need: true, Example: "not live"}
	return [][]checks.Field{{volts, volts, volts}, {torque, mark}, {lamp, lamp, lamp}, {ohms, ohms}, {volts}}
}

func rowWalker() *walker {
	at := time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)
	return &walker{Session: &session.Session{Env: &session.Env{Now: func() time.Time { return at }}}}
}

func TestCutRow(t *testing.T) {
	rows, w := rowsAsked(), rowWalker()
	for _, c := range []struct {
		row   int
		typed string
		want  []string
	}{
		{0, "249.1 248.7 249.0", []string{"249.1", "248.7", "249.0"}},
		{0, "249,1 248,7, 249,0", []string{"249,1", "248,7", "249,0"}},
		{0, "249,1 V; 248,7 V ;249,0 V;", []string{"249,1 V", "248,7 V", "249,0 V"}},
		{0, "0.249 kV 0.2487kV\t249 V", []string{"0.249 kV", "0.2487kV", "249 V"}},
		{0, "249 mV", []string{"249 mV"}},
		{0, "1 2 3 4", []string{"1", "2", "3", "4"}},
		{0, "249 x 248", []string{"249 x", "248"}},
		{1, "45 N m yes", []string{"45 N m", "yes"}},
		{1, "26.5 lbf ft, no", []string{"26.5 lbf ft", "no"}},
		{2, "not live live not live", []string{"not live", "live", "not live"}},
		{2, "not live", []string{"not live"}},
		{2, "Not Live live", []string{"Not Live", "live"}},
		{2, "not live not", []string{"not live", "not"}},
		{2, "not not not", []string{"not", "not", "not"}},
		{3, "> 2 GΩ >500", []string{"> 2 GΩ", ">500"}},
		{3, "> 2 GΩ", []string{"> 2 GΩ"}},
		{4, "0.2 0.3", []string{"0.2 0.3"}},
	} {
		if diff := cmp.Diff(c.want, w.cutRow(nil, rows[c.row], c.typed)); diff != "" {
			t.Errorf("row %d, %q (-want +got):\n%s", c.row, c.typed, diff)
		}
	}
}

// bare is a line without what only parts values.
func bare(s string) string {
	return strings.NewReplacer(",", "", ";", "").Replace(strings.Join(strings.Fields(s), ""))
}

// Cutting a line into values loses nothing, adds nothing and keeps the order,
// whatever was typed.
func FuzzRow(f *testing.F) {
	for _, s := range []string{"249.1 248.7 249.0", "249,1 V; 248,7 V; 249,0 V", "> 2 GΩ >500", "45 N m yes", "not live live not", "1,234", ",;, ;", ">", "> > >", "−0,3 +2 .5", "\xff 1", "1 2"} {
		f.Add(s)
	}
	rows, w := rowsAsked(), rowWalker()
	f.Fuzz(func(t *testing.T, typed string) {
		typed = strings.TrimSpace(typed) // as a prompt gives it
		for i, left := range rows {
			values := w.cutRow(nil, left, typed)
			if got := strings.Join(values, " "); bare(got) != bare(typed) {
				t.Errorf("row %d: %q is cut into %q", i, typed, values)
			}
			if len(left) == 1 {
				continue
			}
			for _, v := range values {
				if v == "" || v != strings.TrimSpace(v) {
					t.Errorf("row %d: %q holds an empty or unclean value: %q", i, typed, values)
				}
			}
		}
		if values := splitValues(typed); bare(strings.Join(values, " ")) != bare(typed) {
			t.Errorf("%q is split into %q", typed, values)
		}
	})
}
