package plan

import (
	"fmt"
	"reflect"
	"time"

	"go.yaml.in/yaml/v3"

	"handback/checks/network"
	"handback/checks/quantity"
	"handback/checks/written"
)

// PlanFormat is the version of the plan format this program reads and writes.
const PlanFormat = 1

// Plan is what was written before the work: plant, instruments, people, and the
// checks and hold points in the order they are to be taken.
type Plan struct {
	Format  int        `plan:"handback,need" doc:"version of the plan format, 1"`
	ID      string     `plan:"id,need" doc:"short name of the plan in lower-case letters, digits and hyphens; jobs are named after it"`
	Title   string     `plan:"title,need" doc:"what returns to service"`
	Site    string     `plan:"site,need" doc:"where the plant stands"`
	Work    string     `plan:"work,need" doc:"what was done to the plant"`
	Permit  string     `plan:"permit" doc:"the permit and the local rules that come first"`
	People  []Person   `plan:"people,need" doc:"who tests, decides and receives"`
	System  System     `plan:"system" doc:"frequency and conductor names"`
	Rule    string     `plan:"rule" one:"guarded|simple" doc:"how limits are judged: guarded draws them in by the uncertainty, simple does not; guarded as far as the accuracy of instruments is known"`
	Meters  []Meter    `plan:"instruments" doc:"instruments with calibration and accuracy"`
	Plant   Plant      `plan:"plant" doc:"nameplate data"`
	Network *Network   `plan:"network" doc:"the drawing of the plant: from it and the steps the program knows what is live, isolated, earthed and in parallel"`
	Imports []Import   `plan:"imports" doc:"how files of readings from other programs are read"`
	Before  []Baseline `plan:"baseline" doc:"what values were before: by the factory's sheet, or in an earlier job; plan baseline prints them"`
	Steps   []rawStep  `plan:"steps,need" doc:"checks, hold points and steps in the order they are taken"`

	DeadBy          string `plan:"dead_shown_by" doc:"the permit or record that shows the plant dead before this plan begins, where no prove-dead of the plan does"`
	TesterMayVerify bool   `plan:"tester_may_verify" doc:"yes lets who made readings sign as engineer or owner of the same job; no when not given"`

	Include            []string `plan:"include" doc:"files beside the plan, or folders with / at their end, whose keys stand as if they stood here"`
	Limits             []Limits `plan:"limits" doc:"limits that checks share by name"`
	UnsignedAcceptance bool     `plan:"unsigned_acceptance" doc:"yes lets engineers accept without a key, and what they accept is shown as unsigned; no when not given"`

	Papers
	Procedures []Procedure `plan:"procedures" doc:"documents that say how things are done, such as method statements and test procedures, which steps and checks follow"`
	Form       OwnForm     `plan:"form" doc:"the owner's form of a handover"`

	text       string
	root       *yaml.Node
	meant      map[*yaml.Node]string
	items      []Item
	laid       laidOut
	grid       *network.Plant
	played     *network.Run
	breaches   Problems
	objections Problems
	warnings   Problems
	wanting    Problems
	due        []Place // of each instrument's due date
}

// Text is the plan as it was read, comments and all.
func (p *Plan) Text() string { return p.text }

// Objections are why a plan that can be read must not be worked by: values beyond
// what any plan may give, starter text that still stands, dead work that nothing
// shows dead, one thing under two names, steps that break a rule which nobody may
// override. LoadPlan loads such a plan, for a job that was opened with it opens for ever.
func (p *Plan) Objections() Problems { return p.objections }

// Warnings are what a plan may say, and what its reader should see.
func (p *Plan) Warnings() Problems { return p.warnings }

// Item is one of a plan's steps: a check, a hold point or a plain step.
type Item struct {
	Check *Check
	Hold  *Hold
	Step  *Step // a plain one
}

// Person is someone who tests, decides or receives.
type Person struct {
	ID   string   `plan:"id,need" doc:"short name used in entries"`
	Name string   `plan:"name,need" doc:"full name"`
	Role string   `plan:"role,need" one:"technician|engineer|owner|witness" doc:"technician, engineer, owner or witness"`
	Firm string   `plan:"firm" doc:"employer"`
	Keys []string `plan:"keys" doc:"the public keys this person signs with, as OpenSSH writes them: ssh-ed25519 AAAA…"`

	Revoked []Revoked `plan:"revoked" doc:"keys of this person that nobody may trust any more, lost or given up; taken out of keys"`
}

// Revoked is a key that is not trusted from a time on.
type Revoked struct {
	Key  string    `plan:"key,need" doc:"the public key, as it stood in keys"`
	From time.Time `plan:"from,need" doc:"since when, such as 2026-03-02T02:00:00+01:00; when it was last seen, where it is lost"`
	Why  string    `plan:"why,need" doc:"why"`
}

// System names the conductors and the frequency.
type System struct {
	Frequency  quantity.Hertz `plan:"frequency,pos" doc:"nominal frequency, such as 50 Hz"`
	Conductors []string       `plan:"conductors" doc:"the three line conductors in phase sequence; L1, L2, L3 when not given"`
	Neutral    string         `plan:"neutral" doc:"name of the neutral; N when not given"`
}

// Meter is an instrument: a meter, a torque tool, a voltage detector or a
// proving source.
type Meter struct {
	ID          string         `plan:"id,need" doc:"short name used in checks"`
	Name        string         `plan:"name,need" doc:"what it is"`
	Serial      string         `plan:"serial,need" doc:"serial number"`
	Certificate string         `plan:"certificate" doc:"number of the calibration certificate"`
	Due         time.Time      `plan:"due,need" doc:"last day the calibration holds, such as 2027-03-31"`
	Category    string         `plan:"category" one:"II|III|IV" doc:"measurement category of IEC 61010-1"`
	LowRating   *quantity.Volt `plan:"rated_from" doc:"lowest system voltage it is rated for (voltage detectors)"`
	HighRating  *quantity.Volt `plan:"rated_to" doc:"highest system voltage it is rated for (voltage detectors)"`
	Ranges      []Range        `plan:"ranges" doc:"measuring ranges with their accuracy"`
	Sort        string         `plan:"sort" one:"voltage detector|proving unit|known live point|multimeter|clamp|insulation tester|resistance meter|ratio meter|torque tool|thermometer|phase-rotation indicator|panel meter|other" doc:"what it is in the words of the trade; told by its name and ranges when not given"`
}

// Range is one measuring range. Accuracy is ±(reading % + digits × resolution
// + of_range % of the top); none of the three given means it is not known.
type Range struct {
	To         quantity.Amount   `plan:"to,need" doc:"top of the range, such as 600 V"`
	From       *quantity.Amount  `plan:"from" doc:"bottom of the usable range, such as 20 N·m"`
	Resolution *quantity.Amount  `plan:"resolution" doc:"value of one digit, such as 0.1 V"`
	Reading    *quantity.Percent `plan:"reading" doc:"accuracy, share of the reading, such as 0.5 %"`
	Digits     *float64          `plan:"digits" doc:"accuracy, number of digits of the resolution"`
	OfRange    *quantity.Percent `plan:"of_range" doc:"accuracy, share of the top of the range"`
}

// Plant is the nameplate data that predictions and limits come from.
type Plant struct {
	Supply       *Supply        `plan:"supply" doc:"the HV supply of the transformers"`
	Transformers []Transformer  `plan:"transformers" doc:"transformers"`
	Incomers     []OtherIncomer `plan:"incomers" doc:"what else feeds a board: generators, and feeders from plant that is not in this plan"`
	Boards       []Board        `plan:"boards" doc:"boards with their ratings"`
}

// Supply is the HV network at the transformers' terminals.
type Supply struct {
	Usual quantity.Volt        `plan:"usual,need,pos" doc:"usual line-to-line volts, such as 11 kV"`
	Low   *quantity.Volt       `plan:"low,pos" doc:"lowest expected line-to-line volts"`
	High  *quantity.Volt       `plan:"high,pos" doc:"highest expected line-to-line volts"`
	Fault *quantity.VoltAmpere `plan:"fault,pos" doc:"three-phase fault level, such as 250 MVA"`
}

// Transformer is a two-winding transformer's nameplate.
type Transformer struct {
	ID         string              `plan:"id,need" doc:"short name used in checks"`
	Name       string              `plan:"name" doc:"what it is called on site"`
	Rating     quantity.VoltAmpere `plan:"rating,need,pos" doc:"rated power, such as 800 kVA"`
	HV         quantity.Volt       `plan:"hv,need,pos" doc:"rated HV line-to-line volts"`
	LV         quantity.Volt       `plan:"lv,need,pos" doc:"rated no-load LV line-to-line volts"`
	Group      string              `plan:"group,need" doc:"vector group, such as Dyn11"`
	Impedance  quantity.Percent    `plan:"impedance,need,pos" doc:"short-circuit impedance on the rating, such as 4.8 %"`
	ImpedanceU *quantity.Percent   `plan:"impedance_u" doc:"how far the impedance may be off, as a share of it; 1 % where the test report gives it measured; the tolerance of IEC 60076-1 Table 1 when not given: 10 %, from 10 % impedance on 7.5 %"`
	LoadLoss   quantity.Watt       `plan:"load_loss,need,pos" doc:"load loss at rated current, such as 8.4 kW"`
	Taps       []Tap               `plan:"taps" doc:"tap positions with their HV volts"`
	Tap        string              `plan:"tap" doc:"tap position in service before the work"`
	Class      string              `plan:"insulation_class" doc:"insulation class of a dry type, such as F"`
	Plate
}

// Tap is one tap position.
type Tap struct {
	Position string        `plan:"position,need" doc:"position as marked"`
	HV       quantity.Volt `plan:"hv,need,pos" doc:"HV volts that give the rated LV volts on this tap"`
}

// OtherIncomer is the nameplate of what feeds a board and is no transformer of the plan.
type OtherIncomer struct {
	ID     string              `plan:"id,need" doc:"short name used in checks"`
	Name   string              `plan:"name" doc:"what it is called on site, such as standby generator"`
	Rated  quantity.Volt       `plan:"rated,need,pos" doc:"rated line-to-line volts, such as 400 V"`
	Rating quantity.VoltAmpere `plan:"rating,need,pos" doc:"rated power, or what a feeder may carry, such as 500 kVA"`
	Plate
}

// Board is a switchboard's ratings.
type Board struct {
	ID        string           `plan:"id,need" doc:"short name used in checks"`
	Name      string           `plan:"name" doc:"what it is called on site"`
	Nominal   quantity.Volt    `plan:"nominal,need,pos" doc:"nominal line-to-line volts, such as 400 V"`
	ShortTime *quantity.Ampere `plan:"short_time,pos" doc:"rated short-time withstand current, such as 50 kA"`
	Peak      *quantity.Ampere `plan:"peak,pos" doc:"rated peak withstand current, such as 105 kA"`
	Plate
}

// Check is one item to be judged.
type Check struct {
	ID     string
	Kind   *Traits
	Title  string
	At     string // where on the plant
	Meter  string // planned instrument, "" when none
	Note   string
	Node   string // of the network, that a pass proves dead
	Device string // of the network, open: across it a pass shows the phases to be the same
	Tried  bool   // its instrument is tried before the readings and after them
	Given  any    // the kind's parameters, as its Given function makes them

	Beyond   string           // why a limit of it goes beyond what is published, "" when none does
	DeadBy   string           // what else shows the plant dead, "" when a prove-dead of the plan does
	LiveFrom string           // the other, live plant it is taken on while the plant worked on is dead
	Life     *quantity.Second // how long its finding counts, nil when the plan does not say
	Photos   []string         // photographs that must be attached, by what they show
	Planned  *quantity.Second // since the first step, nil when the plan does not say
	Follows

	Stretched []string // values that go beyond what any plan may give, with the plan's reason

	Path string
}

// Hold is a step that must not be taken until its needs pass.
type Hold struct {
	Step
	Needs []string // check ids; every check above when the plan names none
	Added []string // those of Needs that its stage adds to what the plan names

	Telephone bool // a word by telephone frees it, until the signature follows
}

// Items are the steps in order.
func (p *Plan) Items() []Item { return p.items }

// Checks are the checks in order. They are read only.
func (p *Plan) Checks() []*Check { return p.laid.checks }

// Check finds a check by id, nil when there is none.
func (p *Plan) Check(id string) *Check { return p.laid.byID[id] }

// Hold finds a hold point by id, nil when there is none.
func (p *Plan) Hold(id string) *Hold {
	for _, h := range p.laid.holds {
		if h.ID == id {
			return h
		}
	}
	return nil
}

// Meter finds an instrument by id, nil when there is none.
func (p *Plan) Meter(id string) *Meter {
	return find(p.Meters, id, func(m *Meter) string { return m.ID })
}

// Transformer finds a transformer by id, nil when there is none.
func (p *Plan) Transformer(id string) *Transformer {
	return find(p.Plant.Transformers, id, func(t *Transformer) string { return t.ID })
}

// Rated is what the plates of all that feeds a board have in common.
type Rated struct {
	ID     string
	Volts  quantity.Volt // line-to-line, of a transformer its rated LV
	Rating quantity.VoltAmpere
}

// Rated is the transformer as what feeds a board, nil for none.
func (t *Transformer) Rated() *Rated {
	if t == nil {
		return nil
	}
	return &Rated{t.ID, t.LV, t.Rating}
}

// Rated finds a transformer or another incomer by id, nil when there is none.
func (p *Plan) Rated(id string) *Rated {
	if x := find(p.Plant.Incomers, id, func(x *OtherIncomer) string { return x.ID }); x != nil {
		return &Rated{x.ID, x.Rated, x.Rating}
	}
	return p.Transformer(id).Rated()
}

// AllRated are the transformers of the plan and its other incomers.
func (p *Plan) AllRated() []*Rated {
	var out []*Rated
	for i := range p.Plant.Transformers {
		out = append(out, p.Plant.Transformers[i].Rated())
	}
	for _, x := range p.Plant.Incomers {
		out = append(out, p.Rated(x.ID))
	}
	return out
}

// Board finds a board by id, nil when there is none.
func (p *Plan) Board(id string) *Board {
	return find(p.Plant.Boards, id, func(b *Board) string { return b.ID })
}

// Person finds a person by id, nil when there is none.
func (p *Plan) Person(id string) *Person {
	return find(p.People, id, func(q *Person) string { return q.ID })
}

func find[T any](list []T, id string, idOf func(*T) string) *T {
	for i := range list {
		if idOf(&list[i]) == id {
			return &list[i]
		}
	}
	return nil
}

// Tap finds a tap by position, nil when there is none.
func (t *Transformer) TapAt(position string) *Tap {
	return find(t.Taps, position, func(t *Tap) string { return t.Position })
}

// Conductors are the names of the three line conductors and the neutral.
func (p *Plan) Conductors() (lines [3]string, neutral string) {
	lines, neutral = [3]string{"L1", "L2", "L3"}, "N"
	if len(p.System.Conductors) == 3 {
		copy(lines[:], p.System.Conductors)
	}
	if p.System.Neutral != "" {
		neutral = p.System.Neutral
	}
	return lines, neutral
}

// Load reads a plan, with the files it includes behind it where it includes any (package
// written). The error, when there is one, is a Problems that names
// everything wrong with its line; file is only how the problems call the file. A plan that
// can be read but must not be worked by is loaded: see Objections.
func Load(file string, data []byte) (*Plan, error) {
	n := &Notes{file: file, places: map[string]Place{}, included: map[*yaml.Node]string{}, meant: map[*yaml.Node]string{}}
	parts := written.Split(file, data)
	root := n.whole(parts)
	if root == nil {
		return nil, n.err()
	}
	p := Plan{text: string(data), root: root, meant: n.meant}
	n.share(root)
	n.decode("", root, reflect.ValueOf(&p).Elem())
	p.root = without(root, "include", "limits")
	n.covers(p.Include, parts)
	if len(n.found) == 0 && p.Format != PlanFormat {
		n.At("handback", "plan format %d: this program reads format %d", p.Format, PlanFormat)
	}
	p.lay(n.items("steps", p.Steps))
	p.stageNeeds()
	n.network(&p)
	n.wire(&p)
	n.procedures(&p)
	n.validate(&p)
	if len(n.found) == 0 {
		n.validateKinds(&p)
	}
	n.floors(&p)
	n.identity(&p)
	n.starterText(parts, root)
	if err := n.err(); err != nil {
		return nil, err
	}
	n.order(&p)
	n.play(&p)
	p.objections, p.warnings = inOrder(n.objected), inOrder(n.warned)
	p.wanting = n.wants(&p)
	for i := range p.Meters {
		p.due = append(p.due, n.placeOf(fmt.Sprintf("instruments[%d].due", i+1)))
	}
	return &p, nil
}
