package archive

import (
	"strings"
	"time"
)

// Rows are what was found in one state, a member a table. A table has the name of its
// member in JSON; its key is job, head and the columns in the tag.
type Rows struct {
	States      []State      `json:"states" about:"states of jobs"`
	Plants      []Plant      `json:"plants" key:"plant" about:"pieces of plant that have a plate"`
	Checks      []Check      `json:"checks" key:"check_id" about:"checks of the plan"`
	Readings    []Reading    `json:"readings" key:"check_id,attempt,field" about:"numbers that were read"`
	Results     []Result     `json:"results" key:"check_id,attempt,value_key" about:"values worked out from readings"`
	Instruments []Instrument `json:"instruments" key:"serial,meter" about:"instruments of the plan"`
	People      []Person     `json:"people" key:"person" about:"people of the plan"`
	Signatures  []Signature  `json:"signatures" key:"entry" about:"signatures"`
	Defects     []Defect     `json:"defects" key:"number" about:"defects"`
	Concessions []Concession `json:"concessions" key:"entry" about:"acceptances of findings that did not pass"`
	Texts       []Text       `json:"texts" key:"number" about:"words to search"`
	Searched    []Searched   `json:"searched" about:"words that a state itself is searched by"`
}

// Of is what every row begins with.
type Of struct {
	Job  string `json:"job" title:"identifier of the job: the hash of its first entry"`
	Head string `json:"head" title:"hash of the newest entry of the state"`
}

// State is a job up to an entry.
type State struct {
	Of
	ID       string `json:"id" title:"what the job is called in its record"`
	Entries  int    `json:"entries" title:"number of entries"`
	Newest   bool   `json:"newest" title:"no other state here goes on from it"`
	Newests  int    `json:"newests" title:"number of newest states of the job; more than one is a fork"`
	Removed  bool   `json:"removed" title:"something was removed from its bag since it was taken"`
	Plan     string `json:"plan" title:"id of the plan"`
	PlanHash string `json:"plan_hash" title:"SHA-256 of the plan the job was opened with"`
	Title    string `json:"title" title:"what returns to service"`
	Site     string `json:"site" title:"where the plant stands"`
	Work     string `json:"work" title:"what was done to the plant"`
	Permit   string `json:"permit" title:"permit"`
	Client   string `json:"client" title:"who ordered the work"`
	Firm     string `json:"firm" title:"firm that tested"`
	Order    string `json:"client_order" title:"number of the order or contract"`
	Document string `json:"document" title:"number and revision the report is filed under"`
	Opened   string `json:"opened" is:"moment" title:"when the job was opened"`
	Last     string `json:"last" is:"moment" title:"when its newest entry was made"`
	Verdict  string `json:"verdict" title:"what the whole job comes to"`
	Standing string `json:"standing" title:"the same in words"`
	Signed   string `json:"signed" title:"roles that signed the record as it stands"`
	Program  string `json:"program" title:"what wrote its first entry"`
}

// Plant is a piece of plant of the plan.
type Plant struct {
	Of
	Plant  string `json:"plant" title:"id in the plan"`
	Sort   string `json:"sort" title:"transformer, incomer or board"`
	Name   string `json:"name" title:"what it is called on site"`
	Maker  string `json:"maker" title:"maker"`
	Plain  string `json:"plain" title:"id, name and maker as they are searched"`
	Serial string `json:"serial" title:"serial number"`
	Year   string `json:"year" title:"year of manufacture"`
	Asset  string `json:"asset" title:"asset number"`
}

// Check is a check of the plan.
type Check struct {
	Of
	Check    string `json:"check_id" title:"id of the check"`
	Number   int    `json:"number" title:"place in the plan, from 1"`
	Kind     string `json:"kind" title:"kind of check"`
	Title    string `json:"title" title:"what is checked"`
	Place    string `json:"place" title:"where"`
	Verdict  string `json:"verdict" title:"verdict of the newest attempt judged"`
	Stands   string `json:"stands" title:"closed, conceded, open, stop or taken out"`
	Attempts int    `json:"attempts" title:"number of attempts"`
	Judged   string `json:"judged" is:"moment" title:"when the newest attempt was judged first"`
}

// Reading is a number that was read.
type Reading struct {
	Of
	Check      string   `json:"check_id" title:"id of the check"`
	Attempt    int      `json:"attempt" title:"attempt, from 1"`
	Field      string   `json:"field" title:"key of the field"`
	Label      string   `json:"label" title:"what was asked"`
	Quantity   string   `json:"quantity" title:"quantity"`
	Unit       string   `json:"unit" title:"base unit"`
	Value      *float64 `json:"value" title:"value in the base unit"`
	Bound      string   `json:"bound" title:"> or < where only a bound was read"`
	Typed      string   `json:"typed" title:"as typed"`
	MeterError *float64 `json:"meter_error" title:"half-width of the error of its instrument there, in the base unit"`
	Serial     string   `json:"serial" title:"serial number of the instrument"`
	Taken      string   `json:"taken" is:"moment" title:"when the attempt was begun"`
	Person     string   `json:"person" title:"who read it"`
	Verdict    string   `json:"verdict" title:"verdict of the attempt"`
	Newest     bool     `json:"newest" title:"of the newest attempt of its check"`
	Entry      int      `json:"entry" title:"entry that gave it"`
}

// Result is a value worked out by judging, in its own unit.
type Result struct {
	Of
	Check       string   `json:"check_id" title:"id of the check"`
	Attempt     int      `json:"attempt" title:"attempt, from 1"`
	Key         string   `json:"value_key" title:"key of the value"`
	Name        string   `json:"name" title:"what it is"`
	Unit        string   `json:"unit" title:"unit of value, uncertainty and limit"`
	Value       *float64 `json:"value" title:"value"`
	Bound       string   `json:"bound" title:"> or < where only a bound is known"`
	Uncertainty *float64 `json:"uncertainty" title:"expanded uncertainty"`
	Standard    *float64 `json:"standard" title:"standard uncertainty"`
	Low         *float64 `json:"low" title:"lower limit"`
	High        *float64 `json:"high" title:"upper limit"`
	Source      string   `json:"source" title:"where the limit comes from"`
	Rule        string   `json:"rule" title:"how it was judged"`
	Verdict     string   `json:"verdict" title:"verdict; missing where it has no limit"`
	Judged      string   `json:"judged" is:"moment" title:"when the attempt was judged first"`
	Newest      bool     `json:"newest" title:"of the newest attempt judged of its check"`
	Lapsed      bool     `json:"lapsed" title:"the attempt does not count in its job any longer"`
	Serial      string   `json:"serial" title:"serial number of the instrument all its readings come from; empty where there are several or none"`
	Entry       int      `json:"entry" title:"entry that judged it last"`
}

// Instrument is an instrument of the plan in force.
type Instrument struct {
	Of
	Serial      string `json:"serial" title:"serial number"`
	Plain       string `json:"plain" title:"the serial number as it is compared, however it was typed"`
	Meter       string `json:"meter" title:"id in the plan"`
	Name        string `json:"name" title:"what it is"`
	Certificate string `json:"certificate" title:"number of the calibration certificate"`
	Due         string `json:"due" is:"day" title:"last day the calibration holds"`
	Uses        int    `json:"uses" title:"number of answers it gave"`
}

// Person is a person of the plan in force.
type Person struct {
	Of
	Person  string `json:"person" title:"id in the plan"`
	Name    string `json:"name" title:"full name"`
	Plain   string `json:"plain" title:"the name as it is searched"`
	Role    string `json:"role" title:"role"`
	Firm    string `json:"firm" title:"employer"`
	Entries int    `json:"entries" title:"number of entries they made"`
}

// Signature is a signature of the record.
type Signature struct {
	Of
	Entry  int    `json:"entry" title:"entry that holds it"`
	Person string `json:"person" title:"id in the plan"`
	Name   string `json:"name" title:"full name"`
	Plain  string `json:"plain" title:"the name as it is searched"`
	Role   string `json:"role" title:"role signed in"`
	Signed string `json:"signed" is:"moment" title:"when, by the clock of the signer"`
	Covers int    `json:"covers" title:"number of entries it covers"`
	Key    string `json:"key" title:"fingerprint of the key"`
	Doubt  string `json:"doubt" title:"why it was not shown to be good when the bag was taken"`
}

// Defect is a numbered open point.
type Defect struct {
	Of
	Number int    `json:"number" title:"number in the job"`
	What   string `json:"what" title:"what it is"`
	Place  string `json:"place" title:"where"`
	Owner  string `json:"owner" title:"who is to put it right"`
	Due    string `json:"due" title:"last day"`
	Holds  string `json:"holds" title:"step that waits for it"`
	Raised string `json:"raised" is:"moment" title:"when it was raised"`
	Entry  int    `json:"entry" title:"entry that raised it"`
	Closed string `json:"closed" is:"moment" title:"when it was closed; empty while it is open"`
	Done   string `json:"done" title:"what was done about it"`
}

// Concession is an engineer's acceptance of a finding.
type Concession struct {
	Of
	Entry    int    `json:"entry" title:"entry that holds it"`
	Check    string `json:"check_id" title:"id of the check"`
	Attempt  int    `json:"attempt" title:"attempt accepted; 0 where the check was not done"`
	Engineer string `json:"engineer" title:"full name of who accepted"`
	Given    string `json:"given" is:"moment" title:"when"`
	Verdict  string `json:"verdict" title:"verdict that was accepted"`
	Reason   string `json:"reason" title:"why"`
	Stands   bool   `json:"stands" title:"the check is closed by it"`
	Void     string `json:"void" title:"why it accepts nothing"`
}

// Text is words of the record. Plain is what searching compares: see Plainly.
type Text struct {
	Of
	Number int    `json:"number" title:"number in this list"`
	Source string `json:"source" title:"where the words stand"`
	Entry  int    `json:"entry" title:"entry that holds them; 0 for the plan"`
	Said   string `json:"said" title:"the words"`
	Plain  string `json:"plain" title:"the words as they are searched"`
}

// Searched is what one state is searched by: of all states these words lie close together,
// where those of a search through texts lie far apart.
type Searched struct {
	Of
	Site string `json:"site" title:"the site and its address as they are searched"`
	Firm string `json:"firm" title:"the firms as they are searched"`
}

// Sources of texts.
const (
	FromTitle      = "title"
	FromSite       = "site"
	FromWork       = "work"
	FromClient     = "client"
	FromFirm       = "firm"
	FromPlant      = "plant"
	FromPerson     = "person"
	FromCheck      = "check"
	FromNote       = "note"
	FromDefect     = "defect"
	FromConcession = "concession"
	FromRemark     = "remark"
)

// Moment is a time as a column holds it, "" for none.
func Moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format("2006-01-02T15:04:05.000Z")
}

// Day is a day as a column holds it, "" for none.
func Day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}

// Plainly is a text as it is searched: in small letters, with single spaces. Engines differ
// in what they do to letters beyond ASCII, so this is done before anything is stored.
func Plainly(text string) string { return strings.ToLower(strings.Join(strings.Fields(text), " ")) }
