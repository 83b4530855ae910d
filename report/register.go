package report

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks/network"
	"handback/checks/plan"
	"handback/report/oneline"
)

// StepLine is what became of a plain step.
type StepLine struct {
	ID, Action, Section string
	Follows             string // of which procedure, and section; "" where the step names none of its own
	Done                bool
	Words               string // who did it and when, or that it was left
	Taken, By, Did      string // when and by whom, and what else was recorded; "" when not done
}

// Register lists things that go out and come back: keys, locks, safety documents, earths.
type Register struct {
	Name    string
	Out, In string // what going out and coming back are called
	Rows    []RegisterRow
}

// RegisterRow is one thing that went out. One without an out was out at the start.
type RegisterRow struct {
	Number, Where              string
	OutAt, OutBy, InAt, InBy   string
	Cleared                    string // of a safety document, by its holder
	OutEntry, InEntry, ClearAt int    // entries
}

// registerActs are the registers, with the act that sends a thing out. The act that takes it
// back brings the thing in; a safety document is cancelled, for nothing takes it back.
var registerActs = []struct {
	name, out, in string
	sends         network.Act
}{
	{"Keys", "out", "in", network.ActKeyOut},
	{"Locks", "on", "off", network.ActLock},
	{"Safety documents", "issued", "cancelled", network.ActIssue},
	{"Earths", "on", "off", network.ActEarthOn},
}

// deed is one act that was done or taken back.
type deed struct {
	entry         int
	act           network.Act
	number, where string
	at            time.Time
	by            string
}

// deeds are the acts of a job that registers are made of, in the order of entries.
func (j *Job) deeds() []deed {
	var out []deed
	add := func(entry int, act network.Act, is Step, at time.Time, by string) {
		if s := j.Plan.Step(is.Did.ID()); s != nil {
			number, where := j.entered(s, is)
			out = append(out, deed{entry, act, number, where, at, by})
		}
	}
	for _, is := range j.Done {
		if s := j.Plan.Step(is.Did.ID()); s != nil {
			add(is.Seq, s.Act, is, is.Taken, is.By)
		}
	}
	for _, u := range j.Undos {
		if s := j.Plan.Step(u.Step); s != nil {
			add(u.Seq, plan.Back(s.Act), u.Was, u.Done, u.By)
		}
	}
	slices.SortStableFunc(out, func(a, b deed) int { return a.entry - b.entry })
	return out
}

// entered is the number that a register has of what a step is about, and where it is.
func (j *Job) entered(s *plan.Step, is Step) (number, where string) {
	where = j.named(s.Device)
	switch s.Act {
	case network.ActKeyOut, network.ActKeyIn:
		return cmp.Or(is.Did.Key, s.Key), where
	case network.ActLock, network.ActUnlock:
		return is.lock, where
	case network.ActEarthOn, network.ActEarthOff:
		return s.Device, where
	}
	var nodes []string
	for _, id := range s.Nodes {
		nodes = append(nodes, j.named(id))
	}
	return s.Document, strings.Join(nodes, ", ")
}

// registers are the registers that anything went into.
func (j *Job) registers() []Register {
	var out []Register
	deeds := j.deeds()
	for _, a := range registerActs {
		r, brings := Register{Name: a.name, Out: a.out, In: a.in}, cmp.Or(plan.Back(a.sends), network.ActCancel)
		for _, d := range deeds {
			when, by := Stamp(d.at), j.PersonName(d.by)
			// A key may come back to another device than it left.
			i := lastRow(r.Rows, func(w RegisterRow) bool {
				return w.Number == d.number && w.InEntry == 0 && (a.sends != network.ActLock || w.Where == d.where)
			})
			switch {
			case d.act == a.sends:
				r.Rows = append(r.Rows, RegisterRow{Number: d.number, Where: d.where, OutAt: when, OutBy: by, OutEntry: d.entry})
			case d.act == brings && i >= 0:
				r.Rows[i].InAt, r.Rows[i].InBy, r.Rows[i].InEntry = when, by, d.entry
			case d.act == brings:
				r.Rows = append(r.Rows, RegisterRow{Number: d.number, Where: d.where, InAt: when, InBy: by, InEntry: d.entry})
			case d.act == network.ActClear && a.sends == network.ActIssue && i >= 0:
				r.Rows[i].Cleared, r.Rows[i].ClearAt = "cleared "+when+" by "+by, d.entry
			}
		}
		if len(r.Rows) > 0 {
			out = append(out, r)
		}
	}
	return out
}

func lastRow(rows []RegisterRow, is func(RegisterRow) bool) int {
	for i := len(rows) - 1; i >= 0; i-- {
		if is(rows[i]) {
			return i
		}
	}
	return -1
}

// addSteps adds what a handover says of the plain steps and the plant.
func (d *Document) addSteps(j *Job, now time.Time) {
	for _, it := range j.Plan.Items() {
		if it.Step != nil {
			d.Steps = append(d.Steps, j.stepLine(it.Step))
		}
	}
	for _, is := range j.Done {
		for _, o := range is.Did.Overrides {
			d.Overrides = append(d.Overrides, is.Did.ID()+": "+j.overrideWords(o))
		}
	}
	for _, u := range j.Undos {
		for _, o := range u.Overrides {
			d.Overrides = append(d.Overrides, u.Step+", undone: "+j.overrideWords(o))
		}
	}
	d.Registers = j.registers()
	if v, state, ok := j.PlantView(now); ok {
		d.State, d.Picture = StateLines(j.Plan, v, state, j.StoppedNodes()), plantPicture(j.Plan, v, state, j.StoppedNodes())
	}
}

// plantPicture is the state of the plant to be drawn.
func plantPicture(p *plan.Plan, v network.View, s network.State, stopped map[string]string) *oneline.Picture {
	out := oneline.Draw(p.Grid().Network(), v, s, oneline.Words{
		Named: p.Network.Named,
		Node:  func(n network.NodeView) string { return NodeWords(p, n, stopped[n.ID]) },
		Device: func(d network.Device, is network.Standing) string {
			if d.Kind == network.Transformer {
				return ""
			}
			return DeviceWords(p, d, v, is)
		},
	})
	return &out
}

// stepLine is what became of a plain step.
func (j *Job) stepLine(s *plan.Step) StepLine {
	line := StepLine{ID: s.ID, Action: s.Action, Section: s.Section, Follows: s.Named(), Words: "NOT DONE"}
	if is, done := j.Steps[s.ID]; done {
		line.Done, line.Taken, line.By, line.Did = true, Stamp(is.Taken), j.PersonName(is.By), JoinWords(j.StepPhotosOpen(s), j.didWords(is))
		line.Words = JoinWords("done "+line.Taken+" by "+line.By, line.Did)
	} else if l := j.LeftNow(s.ID); l != nil {
		line.Words = "LEFT by " + j.PersonName(l.By) + ", " + Stamp(l.At) + ": " + l.Why
	}
	return line
}

// didWords say of a step what else was recorded with it.
func (j *Job) didWords(is Step) string {
	var out []string
	say := func(what, who string) {
		if who != "" {
			out = append(out, what+" "+who)
		}
	}
	say("instructed by", j.PersonName(is.Did.Instructed))
	say("confirmed by", j.PersonName(is.Did.Confirmed))
	say("lock", is.Did.Lock)
	say("key", is.Did.Key)
	for _, o := range is.Did.Overrides {
		out = append(out, "OVERRIDE: "+j.overrideWords(o))
	}
	if len(is.Broken) > 0 {
		out = append(out, "AGAINST A RULE: "+j.refusalWords(is.Broken))
	}
	return strings.Join(out, "; ")
}

// handedStep is a plain step, as it was recorded: what the rules say of it is worked out
// anew by each version, and is no fact of the record.
type handedStep struct {
	Step   string `json:"step"`
	Action string `json:"action"`
	Taken  string `json:"taken,omitempty"` // RFC 3339
	By     string `json:"by,omitempty"`
	Left   string `json:"left,omitempty"` // why it was not done
	handedDid
}

// handedDid is what was recorded with a step beside its time.
type handedDid struct {
	Instructed string             `json:"instructed,omitempty"`
	Confirmed  string             `json:"confirmed,omitempty"`
	Lock       string             `json:"lock,omitempty"`
	Key        string             `json:"key,omitempty"`
	Overrides  []network.Override `json:"overrides,omitempty"`
}

func newHandedDid(is Step) handedDid {
	return handedDid{is.Did.Instructed, is.Did.Confirmed, is.Did.Lock, is.Did.Key, is.Did.Overrides}
}

// handedFound is a device found otherwise than it was recorded.
type handedFound struct {
	Entry    int      `json:"entry"`
	By       string   `json:"by"`
	Device   string   `json:"device"`
	Position string   `json:"position"`
	Place    string   `json:"place,omitempty"`
	Locks    []string `json:"locks,omitempty"`
	Seen     string   `json:"seen"`
	Why      string   `json:"why"`

	Accepted *handedAcceptance `json:"accepted,omitempty"`
}

// handSteps adds the plain steps and what was found to the data of the handover.
func (j *Job) handSteps(d *Handed) {
	for _, it := range j.Plan.Items() {
		if it.Step == nil {
			continue
		}
		h := handedStep{Step: it.Step.ID, Action: it.Step.Action}
		if is, done := j.Steps[it.Step.ID]; done {
			h.Taken, h.By, h.handedDid = is.Taken.Format(time.RFC3339), is.By, newHandedDid(is)
		} else if l := j.LeftNow(it.Step.ID); l != nil {
			h.Left = l.Why
		}
		d.Steps = append(d.Steps, h)
	}
	for _, f := range j.Found {
		h := handedFound{Entry: f.Seq, By: f.By, Device: f.Device, Position: string(f.Is.Pos), Place: string(f.Is.Place), Locks: f.Is.Locks, Seen: f.Seen.Format(time.RFC3339), Why: f.Why}
		if x := f.Accepted; x != nil {
			h.Accepted = &handedAcceptance{x.Seq, x.By, x.Reason, j.handProof(x.Seq)}
		}
		d.Found = append(d.Found, h)
	}
}

// Title names a register with what is still out.
func (r Register) Title() string {
	out := 0
	for _, w := range r.Rows {
		if w.InEntry == 0 {
			out++
		}
	}
	if out == 0 {
		return r.Name
	}
	return fmt.Sprintf("%s, %d not %s", r.Name, out, r.In)
}
