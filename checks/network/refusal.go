package network

import (
	"slices"
	"strings"
)

// Rule is the name of a rule.
type Rule string

// The rules. What the plan itself adds is not known here.
const (
	RuleState         Rule = "state"          // the act does not fit what the drawing and the records say
	RuleLocked        Rule = "locked"         // a lock is on the device
	RuleWithdrawn     Rule = "withdrawn"      // closing a withdrawn device, racking one that is not open
	RuleInterlock     Rule = "interlock"      // another device does not stand as needed
	RuleKey           Rule = "key"            // the key is out, or does not come out
	RuleLiveEarth     Rule = "live_earth"     // earth on a node that may be live
	RuleNotIsolated   Rule = "not_isolated"   // earth on a node with no gap to a supply
	RuleNotProved     Rule = "not_proved"     // earth on a node without a proof in force
	RuleNoProof       Rule = "no_proof"       // proof, phasing or discharge where it cannot be true
	RuleOntoEarth     Rule = "onto_earth"     // a close that makes a node live and earthed
	RuleParallel      Rule = "parallel"       // a close with both sides live and no phasing in force
	RuleBackFeed      Rule = "back_feed"      // a close that feeds a transformer backwards
	RuleOffLoad       Rule = "off_load"       // moving live what breaks no current
	RuleNotSafe       Rule = "not_safe"       // a document over plant that is not made safe for it
	RuleDocuments     Rule = "documents"      // a permit and a sanction on the same plant; cancelling what is not cleared
	RuleUnderDocument Rule = "under_document" // changing what a document in force counts on
	RuleLoses         Rule = "loses"          // a load goes dark and the step does not say so
)

// Why tells apart the ways in which one rule is broken.
type Why string

// The ways. A rule broken in one way alone has none.
const (
	WhyUnknown    Why = "no-such"     // state: the device, node, lock, key, document or source is not known; under_document: the node is not
	WhyAlready    Why = "already-so"  // state: it stands so, or is issued, locked, cleared already
	WhyCannot     Why = "cannot"      // state: the device or source cannot do that
	WhyPosition   Why = "position"    // state: its position is unknown; key: the device does not stand as the key needs
	WhyElsewhere  Why = "elsewhere"   // key: the key is in another device or in hand; state: it is not where the step says
	WhyRacking    Why = "racking"     // withdrawn: the device is not open
	WhyClosing    Why = "closing"     // withdrawn: the device is withdrawn
	WhyLive       Why = "live"        // no_proof, not_safe, under_document: the node may be live
	WhyDead       Why = "dead"        // no_proof: a side is not live
	WhyNotOpen    Why = "not-open"    // no_proof: the device is not open
	WhyNever      Why = "never"       // parallel: not phased
	WhyLapsed     Why = "lapsed"      // parallel, not_proved: it was, and its minutes have passed
	WhyUnsecured  Why = "not-secured" // not_safe
	WhyUnearthed  Why = "not-earthed" // not_safe; under_document: the node loses its earths
	WhyUnproved   Why = "not-proved"  // not_safe: neither earthed nor proved
	WhyMixed      Why = "mixed"       // documents: a permit and a sanction
	WhyNotCleared Why = "not-cleared" // documents
	WhyIsolation  Why = "isolation"   // under_document: the node loses isolation, or its locks
	WhyPoint      Why = "point"       // under_document: a point of isolation is moved or freed
	WhyEarth      Why = "earth"       // under_document: an earth is taken off or freed
	WhyJoining    Why = "joining"     // not_proved: an earthed part is joined to one that is not proved
)

// Authority says who may let a refused step go on.
type Authority string

// The authorities. All but the first two need the plan's leave at the step, a person and a reason.
const (
	Never     Authority = "never"
	Amend     Authority = "amend"     // nobody: the plan is to be changed
	Person    Authority = "person"    // a person
	PlanWord  Authority = "plan"      // a person on the plan's word
	InControl Authority = "control"   // the person in control
	Indicator Authority = "indicator" // a person, by a built-in indicator shown live before and after
)

var authority = map[Rule]Authority{
	RuleState: Amend, RuleLocked: Never, RuleWithdrawn: Never, RuleInterlock: PlanWord, RuleKey: PlanWord, RuleLiveEarth: Never,
	RuleNotIsolated: Person, RuleNotProved: Indicator, RuleNoProof: Never, RuleOntoEarth: Never, RuleParallel: InControl, RuleBackFeed: PlanWord,
	RuleOffLoad: Amend, RuleNotSafe: Never, RuleDocuments: Never, RuleUnderDocument: Never, RuleLoses: Amend,
}

// Refusal is one breach of a rule by a step: what it concerns, by name, and what would cure it.
type Refusal struct {
	Rule      Rule      `json:"rule"`
	Why       Why       `json:"why,omitempty"`
	Device    string    `json:"device,omitempty"` // that the step is about
	Nodes     []string  `json:"nodes,omitempty"`
	Sources   []string  `json:"sources,omitempty"`
	Devices   []string  `json:"devices,omitempty"` // others that stand in the way
	Locks     []string  `json:"locks,omitempty"`
	Loads     []string  `json:"loads,omitempty"`
	Key       string    `json:"key,omitempty"`
	Document  string    `json:"document,omitempty"`
	Feeds     []Feed    `json:"feeds,omitempty"` // what could make the node live, and over what
	Cure      []Step    `json:"cure,omitempty"`  // steps to take first, in order; each is judged when it is taken
	Authority Authority `json:"authority"`
}

// Override is what somebody takes upon them to let a refused step go on.
type Override struct {
	Rule       Rule   `json:"rule"`
	Person     string `json:"person"`
	Reason     string `json:"reason"`
	InControl  bool   `json:"in_control,omitempty"`  // the person is the person in control
	Indicator  string `json:"indicator,omitempty"`   // the built-in indicator that stood for the proof
	LiveBefore bool   `json:"live_before,omitempty"` // it showed live before, on plant known to be live
	LiveAfter  bool   `json:"live_after,omitempty"`  // and again after
}

// Overridable tells whether there is anybody who may override a refusal, with the plan's leave.
func (r Refusal) Overridable() bool {
	return slices.Contains([]Authority{Person, PlanWord, InControl, Indicator}, r.Authority)
}

// leave tells whether the plan lets anybody override a refusal at a step.
func (s Step) leave(r Refusal) bool {
	return slices.Contains(s.Leave, r.Rule) && r.Overridable()
}

// overridden tells whether somebody with the authority did, with a reason.
func (s Step) overridden(r Refusal) bool {
	return s.leave(r) && slices.ContainsFunc(s.Overrides, func(o Override) bool { return o.covers(r) })
}

func (o Override) covers(r Refusal) bool {
	if o.Rule != r.Rule || strings.TrimSpace(o.Person) == "" || strings.TrimSpace(o.Reason) == "" {
		return false
	}
	switch r.Authority {
	case Person, PlanWord:
		return true
	case InControl:
		return o.InControl
	case Indicator:
		return strings.TrimSpace(o.Indicator) != "" && o.LiveBefore && o.LiveAfter
	}
	return false
}
