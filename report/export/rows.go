package export

import (
	"encoding/json"
	"time"

	"handback/checks"
)

// The rows of each table. A column is called as its member is in JSON; its title is in
// the tag. Columns of the key come first. A pointer that is nil, and a text that is
// empty, is a cell without a value. Every unit has its UCUM code beside it.

// CheckRow is a check of the plan, in its order; those that an amendment took out last.
type CheckRow struct {
	Job      string         `json:"job" title:"job"`
	Check    string         `json:"check" title:"id of the check"`
	Number   int            `json:"number" title:"place in this list, from 1"`
	Kind     string         `json:"kind" title:"kind of check"`
	Title    string         `json:"title" title:"what is checked"`
	At       string         `json:"at,omitempty" title:"where"`
	Verdict  checks.Verdict `json:"verdict" title:"verdict of the newest attempt judged"`
	Stands   string         `json:"stands" title:"what it stands as: closed, conceded, open, stop or taken out"`
	Conceded bool           `json:"conceded" title:"accepted under concession"`
	Skipped  string         `json:"skipped,omitempty" title:"why it was left out"`
}

// ReadingRow is one answer, corrections taken in.
type ReadingRow struct {
	Job        string     `json:"job" title:"job"`
	Check      string     `json:"check" title:"id of the check"`
	Attempt    int        `json:"attempt" title:"attempt, from 1"`
	Field      string     `json:"field" title:"key of the field"`
	Label      string     `json:"label" title:"what was asked"`
	Sort       string     `json:"sort" title:"sort of answer"`
	Typed      string     `json:"typed" title:"as typed, verbatim"`
	Bound      string     `json:"bound,omitempty" title:"> or < where only a bound was read"`
	Number     *float64   `json:"number,omitempty" title:"number in the unit it was typed in"`
	NumberUnit string     `json:"number_unit,omitempty" title:"that unit"`
	NumberUCUM string     `json:"number_ucum,omitempty" title:"UCUM code of that unit"`
	Value      *float64   `json:"value,omitempty" title:"value in the base unit"`
	Unit       string     `json:"unit,omitempty" title:"base unit"`
	UCUM       string     `json:"ucum,omitempty" title:"UCUM code of the base unit"`
	Word       string     `json:"word,omitempty" title:"the answer where it is no number and no time"`
	Moment     *time.Time `json:"moment,omitempty" title:"the answer where it is a time"`
	Instrument string     `json:"instrument,omitempty" title:"id of the instrument it was read with"`
	NotThere   string     `json:"not_there,omitempty" title:"why there was nothing to read"`
	Kept       string     `json:"kept,omitempty" title:"why it was kept against doubt"`
	FromEntry  *int       `json:"from_entry,omitempty" title:"entry of another check that it was read for"`
	Entry      int        `json:"entry" title:"entry that gave it"`
}

// FindingRow is what judging an attempt gave.
type FindingRow struct {
	Job     string         `json:"job" title:"job"`
	Check   string         `json:"check" title:"id of the check"`
	Attempt int            `json:"attempt" title:"attempt, from 1"`
	By      string         `json:"by" title:"who did it"`
	Begun   time.Time      `json:"begun" title:"when its first line was read"`
	Judged  time.Time      `json:"judged" title:"when it was judged first"`
	Repeats string         `json:"repeats_because,omitempty" title:"why it repeats the attempt before"`
	Verdict checks.Verdict `json:"verdict" title:"verdict"`
	Stop    string         `json:"stop,omitempty" title:"code of a stop"`
	Reasons []string       `json:"reasons" title:"codes of its reasons"`
	Why     string         `json:"why,omitempty" title:"what decided it, in words"`
	Rule    string         `json:"rule,omitempty" title:"decision rule"`
	Until   *time.Time     `json:"until,omitempty" title:"when it lapses"`
	Entry   int            `json:"entry" title:"entry that judged it last"`
}

// ValueRow is a value worked out by judging, in its own unit.
type ValueRow struct {
	Job         string         `json:"job" title:"job"`
	Check       string         `json:"check" title:"id of the check"`
	Attempt     int            `json:"attempt" title:"attempt, from 1"`
	Key         string         `json:"key" title:"key of the value"`
	Name        string         `json:"name" title:"what it is"`
	Bound       string         `json:"bound,omitempty" title:"> or < where only a bound is known"`
	Value       *float64       `json:"value,omitempty" title:"value"`
	Unit        string         `json:"unit" title:"unit of value, uncertainty and limit"`
	UCUM        string         `json:"ucum" title:"UCUM code of that unit"`
	Uncertainty *float64       `json:"uncertainty,omitempty" title:"expanded uncertainty"`
	Low         *float64       `json:"low,omitempty" title:"lower limit"`
	High        *float64       `json:"high,omitempty" title:"upper limit"`
	Source      string         `json:"source,omitempty" title:"where the limit comes from"`
	Rule        string         `json:"rule,omitempty" title:"how it was judged"`
	ChanceOut   *float64       `json:"chance_out,omitempty" title:"chance that the true value is beyond the limit"`
	Verdict     checks.Verdict `json:"verdict" title:"verdict; missing where it has no limit"`
	Was         *float64       `json:"was,omitempty" title:"of a change: what the value was before, in its unit"`
	WasUnit     string         `json:"was_unit,omitempty" title:"that unit"`
	WasUCUM     string         `json:"was_ucum,omitempty" title:"UCUM code of that unit"`
	WasSource   string         `json:"was_source,omitempty" title:"where that stands"`
	WasDate     string         `json:"was_date,omitempty" title:"when that was measured"`
}

// StepRow is a step of the plan as it stands, behind a hold point or a plain one.
type StepRow struct {
	Job        string     `json:"job" title:"job"`
	Step       string     `json:"step" title:"id of the step"`
	Number     int        `json:"number" title:"place in the plan, checks counted, from 1"`
	Hold       bool       `json:"hold" title:"it is a hold point"`
	Act        string     `json:"act,omitempty" title:"act"`
	Action     string     `json:"action" title:"what is done, in words"`
	Device     string     `json:"device,omitempty" title:"device of the network"`
	State      string     `json:"state" title:"done, left or open"`
	Taken      *time.Time `json:"taken,omitempty" title:"when it was done"`
	By         string     `json:"by,omitempty" title:"who did it, or left it"`
	Instructed string     `json:"instructed,omitempty" title:"who had it done"`
	Confirmed  string     `json:"confirmed,omitempty" title:"who saw that it was"`
	Left       string     `json:"left,omitempty" title:"why it was not done"`
	Waits      []string   `json:"waits" title:"what a hold point waits for, or waited for when it was taken"`
	Entry      *int       `json:"entry,omitempty" title:"entry that recorded it"`
}

// EntryRow is an entry of the record.
type EntryRow struct {
	Job   string          `json:"job" title:"job"`
	Seq   int             `json:"seq" title:"number of the entry, from 1"`
	At    time.Time       `json:"at" title:"when it was made"`
	By    string          `json:"by" title:"who made it"`
	Kind  string          `json:"kind" title:"kind of entry"`
	Check string          `json:"check,omitempty" title:"check it is about"`
	Data  json.RawMessage `json:"data" title:"what it says"`
	Prev  string          `json:"prev" title:"hash of the entry before"`
	Hash  string          `json:"hash" title:"hash of this entry"`
}
