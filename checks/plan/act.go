package plan

import "handback/checks/network"

// ActTag hangs a caution notice on a device; nothing of the network changes by it.
const ActTag network.Act = "tag"

// acts are what a step may do: the keys each needs, its words, the act that takes it back,
// and whether it may make plant live, dead or earthed.
var acts = []struct {
	act      network.Act
	needs    []string
	words    string
	back     network.Act // "" where nothing does
	switches bool
}{
	{network.ActOpen, []string{"device"}, "Open {device}", network.ActClose, true},
	{network.ActClose, []string{"device"}, "Close {device}", network.ActOpen, true},
	{network.ActWithdraw, []string{"device"}, "Withdraw {device}", network.ActService, true},
	{network.ActTestPlace, []string{"device"}, "Put {device} in the test position", network.ActService, true},
	{network.ActService, []string{"device"}, "Put {device} in the service position", network.ActWithdraw, true},
	{network.ActEarthOn, []string{"device"}, "Apply earth {device}", network.ActEarthOff, true},
	{network.ActEarthOff, []string{"device"}, "Remove earth {device}", network.ActEarthOn, true},
	{network.ActLock, []string{"device", "lock"}, "Lock {device} with lock {lock}", network.ActUnlock, false},
	{network.ActUnlock, []string{"device", "lock"}, "Take lock {lock} off {device}", network.ActLock, false},
	{ActTag, []string{"device"}, "Hang a caution notice on {device}", "", false},
	{network.ActDischarge, []string{"source"}, "Discharge {source}", "", true},
	{network.ActIssue, []string{"document", "type", "nodes"}, "Issue {type} {document} on {nodes}", "", false},
	{network.ActClear, []string{"document"}, "{type} {document} cleared by its holder", "", false},
	{network.ActCancel, []string{"document"}, "Cancel {type} {document}", "", false},
	{network.ActKeyOut, []string{"device", "key"}, "Take key {key} out of {device}", network.ActKeyIn, false},
	{network.ActKeyIn, []string{"device", "key"}, "Put key {key} into {device}", network.ActKeyOut, false},
}

// Back is the act that takes another back, "" where nothing does.
func Back(act network.Act) network.Act {
	for _, a := range acts {
		if a.act == act {
			return a.back
		}
	}
	return ""
}

// Switches tells whether a step may make plant live, dead or earthed: not one about papers,
// locks and keys, nor one in words alone where a network says which acts do.
func (p *Plan) Switches(s *Step) bool {
	for _, a := range acts {
		if a.act == s.Act {
			return a.switches
		}
	}
	return p.grid == nil
}
