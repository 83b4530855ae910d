package plan

import (
	"reflect"
	"time"
)

// Trial is a check judged outside a job: the plant, one or more checks with
// their answers, the last of which is judged. Earlier ones are what it may
// refer to.
type Trial struct {
	Plan    *Plan
	Answers map[string]map[string]string // by check id and field key, as typed
	Kept    map[string]map[string]string // why a doubted answer was kept
	At      time.Time
}

type rawTrial struct {
	Format int          `plan:"trial,need" doc:"version of the trial format, 1"`
	At     time.Time    `plan:"at,need" doc:"when the readings were taken, such as 2026-03-02T10:00:00+00:00"`
	People []Person     `plan:"people" doc:"who tests, decides and receives; needed where a check asks who"`
	System System       `plan:"system" doc:"frequency and conductor names"`
	Rule   string       `plan:"rule" one:"guarded|simple" doc:"how limits are judged"`
	Meters []Meter      `plan:"instruments" doc:"instruments with calibration and accuracy"`
	Plant  Plant        `plan:"plant" doc:"nameplate data"`
	Before []Baseline   `plan:"baseline" doc:"what values were before"`
	Checks []trialCheck `plan:"checks,need" doc:"one check, or several of which the last is judged"`
}

type trialCheck struct {
	rawCheck
	Answers map[string]string `plan:"answers,need" doc:"what was read, by field"`
	Kept    map[string]string `plan:"kept" doc:"why a doubted reading was kept, by field"`
}

// LoadTrial reads a trial file. Problems are reported as LoadPlan does, and values
// beyond what any plan may give, or an instrument that cannot read, are problems too:
// nothing was opened with a trial. The order of steps is no matter of one check.
func LoadTrial(file string, data []byte) (*Trial, error) {
	n := &Notes{file: file, places: map[string]Place{}, trial: true}
	root := readNode(data, n)
	if root == nil {
		return nil, n.err()
	}
	var raw rawTrial
	n.decode("", root, reflect.ValueOf(&raw).Elem())
	if len(n.found) == 0 && raw.Format != 1 {
		n.At("trial", "trial format %d: this program reads format 1", raw.Format)
	}
	p := &Plan{People: raw.People, System: raw.System, Rule: raw.Rule, Meters: raw.Meters, Plant: raw.Plant, Before: raw.Before}
	t := &Trial{Plan: p, At: raw.At, Answers: map[string]map[string]string{}, Kept: map[string]map[string]string{}}
	var steps []rawStep
	for _, c := range raw.Checks {
		steps = append(steps, rawStep{rawCheck: c.rawCheck})
		t.Answers[c.Check], t.Kept[c.Check] = c.Answers, c.Kept
	}
	p.lay(n.items("checks", steps))
	n.validate(p)
	if len(n.found) == 0 && len(p.Checks()) == 0 {
		n.At("checks", "no check: at least one is wanted")
	}
	if len(n.found) == 0 {
		n.validateKinds(p)
	}
	n.floors(p)
	n.identity(p)
	if n.found = append(n.found, n.objected...); len(n.found) > 0 {
		return nil, inOrder(n.found)
	}
	return t, nil
}
