// Package letter fills in the owner's own letters and certificates: text or HTML
// templates over the data of a handover. A template comes from outside: it gets values
// without methods, a few functions that reach nothing (no environment, file, network,
// clock or chance), a bounded output, and so many steps and so much time.
package letter

import "html/template"

// Data is what a template is given. Every number and moment is also there as it is shown.
type Data struct {
	Job      string       `doc:"name of the job"`
	Title    string       `doc:"what returns to service"`
	Site     string       `doc:"where the plant stands"`
	Work     string       `doc:"what was done to the plant"`
	Permit   string       `doc:"the permit and the local rules"`
	Opened   string       `doc:"when the job was opened"`
	Last     string       `doc:"when the newest entry was made"`
	Issued   string       `doc:"date of issue, such as 2026-05-12"`
	Verdict  string       `doc:"ready, ready-with-concessions, not-ready or stop"`
	Overall  string       `doc:"the verdict with what it comes of, in words"`
	Ready    bool         `doc:"whether it is ready or ready with concessions"`
	Rule     string       `doc:"how values are held against limits (decision rule)"`
	Deferral string       `doc:"that local rules and licensed people come first: print it"`
	Head     string       `doc:"head hash of the record"`
	Entries  int          `doc:"number of entries of the record"`
	Digest   string       `doc:"SHA-256 of the handover data"`
	Plan     string       `doc:"file of the plan as opened"`
	PlanHash string       `doc:"its SHA-256"`
	Program  string       `doc:"program that opened the job"`
	Heading  string       `doc:"heading of the owner's form"`
	Form     string       `doc:"number of the owner's form"`
	Logo     template.URL `doc:"logo of the owner's form, for src in HTML; empty for none"`

	Identity    []Identity        `doc:"papers and nameplates, in a fixed order; what the plan leaves out is not there"`
	Said        map[string]string `doc:"the papers by key, such as index .Said \"client.name\"; see Identity"`
	Plant       []Plant           `doc:"each piece of plant"`
	Missing     []Missing         `doc:"what a report after ISO/IEC 17025:2017 needs and the plan does not say"`
	Checks      []Check           `doc:"every check, in the order of the handover"`
	Stops       []Stop            `doc:"findings nobody may pass over, cured or not"`
	Holds       []Step            `doc:"hold points"`
	Steps       []Step            `doc:"plain steps"`
	Overrides   []string          `doc:"rules that somebody took upon them"`
	Concessions []Concession      `doc:"findings accepted by an engineer"`
	Defects     []Defect          `doc:"numbered open points"`
	Notes       []Note            `doc:"words recorded during the job"`
	Flags       []Flag            `doc:"what an engineer should look at"`
	Instruments []Instrument      `doc:"instruments of the plan"`
	People      []Person          `doc:"people of the plan"`
	Signatures  []Signature       `doc:"signatures by key"`
	Attachments []Attachment      `doc:"attached files"`
	Cautions    []string          `doc:"cautions of the checks"`
	State       []string          `doc:"how the plant stands after the steps recorded"`
}

// Identity is one thing that tells what the handover is about.
type Identity struct {
	Key   string `doc:"such as client.name, document.number, transformer.serial"`
	Of    string `doc:"piece of plant it belongs to, empty for the whole"`
	Label string `doc:"in the language of the form"`
	Text  string `doc:"what the plan says"`
}

// Plant is a piece of plant with its nameplate.
type Plant struct {
	ID        string `doc:"short name in the plan"`
	Sort      string `doc:"transformer, incomer or board"`
	Name      string `doc:"what it is called on site"`
	Maker     string `doc:"who made it"`
	Serial    string `doc:"serial number"`
	Year      string `doc:"year of make"`
	Asset     string `doc:"the owner's number"`
	Rating    string `doc:"rated power"`
	Volts     string `doc:"rated volts"`
	Group     string `doc:"vector group"`
	Impedance string `doc:"short-circuit impedance"`
	Tap       string `doc:"tap before the work"`
}

// Missing is what a report needs and the plan does not say.
type Missing struct {
	Clause string `doc:"such as 7.8.2.1 b)"`
	Path   string `doc:"where it would stand in the plan"`
	What   string `doc:"what it is"`
}

// Check is a check with its attempts.
type Check struct {
	Number   int       `doc:"from 1, in the order of the handover"`
	ID       string    `doc:"name of the check"`
	Title    string    `doc:"title"`
	Kind     string    `doc:"kind, such as lv-volts"`
	Group    string    `doc:"group of the handover it stands in"`
	At       string    `doc:"where it was taken"`
	Verdict  string    `doc:"pass, inconclusive, fail, void or missing, as it counts now"`
	State    string    `doc:"the verdict in words, with concession or skip"`
	Accepted bool      `doc:"whether an engineer accepted what did not pass"`
	Decided  string    `doc:"name of the value that decided"`
	Value    string    `doc:"that value with its unit; empty where no number decided"`
	Limit    string    `doc:"its limit"`
	Source   string    `doc:"where the limit comes from"`
	Margin   string    `doc:"from the value to its limit, negative beyond it"`
	Why      string    `doc:"what stands against it"`
	Method   string    `doc:"how it is judged"`
	Sources  []string  `doc:"standards and other sources of its kind"`
	Cautions []string  `doc:"cautions of its kind"`
	Attempts []Attempt `doc:"every attempt, the first first"`
}

// Attempt is one set of answers with its finding.
type Attempt struct {
	Number   int       `doc:"from 1"`
	By       string    `doc:"who took it"`
	When     string    `doc:"when it was judged, or begun"`
	Why      string    `doc:"why it was repeated"`
	Verdict  string    `doc:"verdict; missing where it was not judged"`
	Judged   bool      `doc:"whether it was judged"`
	Entry    int       `doc:"entry that judged it"`
	Until    string    `doc:"how long it counts"`
	Readings []Reading `doc:"what was read or observed"`
	Values   []Value   `doc:"what was worked out"`
	Reasons  []Reason  `doc:"what the verdict rests on"`
}

// Reading is one answer.
type Reading struct {
	Label      string  `doc:"what was read"`
	Typed      string  `doc:"as it was typed"`
	Value      float64 `doc:"the number, in Unit; 0 where it is none"`
	Number     bool    `doc:"whether it is a number"`
	Unit       string  `doc:"unit of the number"`
	Word       string  `doc:"what was answered where it is no number"`
	Instrument string  `doc:"instrument it was read with"`
	Remark     string  `doc:"remark"`
	Entry      int     `doc:"entry that gave it"`
}

// Value is a value that was worked out.
type Value struct {
	Name    string  `doc:"what it is"`
	Text    string  `doc:"with its uncertainty and unit"`
	Value   float64 `doc:"the number, in Unit; 0 where none came out"`
	Number  bool    `doc:"whether a number came out"`
	Unit    string  `doc:"unit of the number"`
	Limit   string  `doc:"limit; empty where it is shown only"`
	Source  string  `doc:"where the limit comes from"`
	Margin  string  `doc:"from the value to its limit"`
	Verdict string  `doc:"verdict; empty where it is shown only"`
}

// Reason is one point that a verdict rests on.
type Reason struct {
	Verdict string `doc:"pass, inconclusive, fail, void or missing"`
	Words   string `doc:"in words"`
}

// Stop is a finding nobody may pass over.
type Stop struct {
	Check    string `doc:"name of the check"`
	Title    string `doc:"its title"`
	Attempt  int    `doc:"attempt it was found in"`
	Text     string `doc:"in words"`
	Standing bool   `doc:"whether it stands"`
	Outcome  string `doc:"what became of it"`
}

// Step is a hold point or a plain step.
type Step struct {
	ID     string `doc:"name of the step"`
	Action string `doc:"what is done"`
	Done   bool   `doc:"whether it was done"`
	Words  string `doc:"who did it and when, or what it waits for"`
}

// Concession is an engineer's acceptance.
type Concession struct {
	Check    string `doc:"name of the check"`
	Title    string `doc:"its title"`
	Of       string `doc:"the attempt, or that it was not done"`
	Engineer string `doc:"who accepted"`
	When     string `doc:"when"`
	Verdict  string `doc:"verdict that was accepted"`
	Finding  string `doc:"finding that was accepted"`
	Reason   string `doc:"why"`
	Proof    string `doc:"whose key signed it, or that it is unsigned"`
}

// Defect is a numbered open point.
type Defect struct {
	Number int    `doc:"its number"`
	Words  string `doc:"what it is"`
	By     string `doc:"who raised it"`
	When   string `doc:"when"`
	State  string `doc:"OPEN, or how it was closed"`
	Open   bool   `doc:"whether it is open"`
}

// Note is words recorded during the job.
type Note struct {
	Entry int    `doc:"its entry"`
	When  string `doc:"when"`
	By    string `doc:"who"`
	Check string `doc:"check it belongs to, empty for the job"`
	Text  string `doc:"the words"`
}

// Flag is what an engineer should look at.
type Flag struct {
	Place string `doc:"where it stands"`
	About string `doc:"what it is about"`
	Text  string `doc:"in words"`
	Open  bool   `doc:"whether it is open"`
}

// Instrument is an instrument of the plan.
type Instrument struct {
	ID          string   `doc:"short name in the plan"`
	Name        string   `doc:"what it is"`
	Serial      string   `doc:"serial number"`
	Certificate string   `doc:"number of the calibration certificate"`
	Due         string   `doc:"last day the calibration holds"`
	Category    string   `doc:"measurement category"`
	InDate      string   `doc:"yes, no or not used"`
	Used        []string `doc:"checks it was used in"`
	Accuracy    []string `doc:"accuracy of each range"`
}

// Person is a person of the plan.
type Person struct {
	ID   string `doc:"short name in the plan"`
	Name string `doc:"full name"`
	Role string `doc:"technician, engineer, owner or witness"`
	Firm string `doc:"employer"`
}

// Signature is a signature by key.
type Signature struct {
	Person string `doc:"short name in the plan"`
	Name   string `doc:"full name"`
	Role   string `doc:"technician, engineer, owner or witness"`
	When   string `doc:"when, by the signer's clock"`
	Words  string `doc:"what was signed, and how much came after it"`
	Key    string `doc:"fingerprint of the key"`
	Doubt  string `doc:"why it is not shown to be good; empty when it is: print it"`
}

// Attachment is an attached file.
type Attachment struct {
	Entry   int    `doc:"its entry"`
	Check   string `doc:"check it belongs to, empty for the job"`
	Name    string `doc:"name of the file"`
	Caption string `doc:"what it shows"`
	SHA256  string `doc:"SHA-256 of the file"`
	By      string `doc:"who attached it"`
	When    string `doc:"when"`
}
