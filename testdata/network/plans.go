// Package network makes plans of the cases in this folder, for tests: a network with the
// steps taken on it.
package network

import (
	"bytes"
	"compress/gzip"
	"embed"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
)

//go:embed *.gz
var files embed.FS

// Case is a network with its steps, as the files hold it.
type Case struct {
	Name    string
	Network struct {
		Nodes, Low []string
		Loads      map[string]string
		Sources    []map[string]any
		Devices    []map[string]any
		Interlocks []struct {
			Device, Act string
			Needs       map[string]string
		}
		Keys []struct {
			ID, Home string
			Free     map[string]string
		}
		Life map[string]int
	}
	Start map[string]struct {
		Pos, Place string
		Locks      []string
	}
	Begin       *State
	BeginFaults []string `json:"begin_faults"` // nodes live and earthed at the start: no plan begins so
	Steps       []Step
	Left        []string
}

// State is some of what follows from a state: by node the supplies that reach it, whether
// it is isolated or secured, its points of isolation; the groups in parallel.
type State struct {
	Supply, Points    map[string][]string
	Isolated, Secured map[string]bool
	Parallel, Loops   [][]string
}

// Step is one step with the rules that refuse it.
type Step struct {
	Act                                                       string
	At                                                        int // minutes
	Device, Node, Source, Document, Key, From, To, Lock, Type string
	Drops, Nodes, Refused                                     []string
	After                                                     *State
}

// Read reads a file of this folder.
func Read(file string) ([]Case, error) {
	data, err := files.ReadFile(file)
	if err != nil {
		return nil, err
	}
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		return nil, err
	}
	var out []Case
	if err := json.NewDecoder(z).Decode(&out); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return out, nil
}

type object = map[string]any

// Bare is a plan of the case's network and no step of it.
func (c Case) Bare() ([]byte, error) {
	return c.plan([]object{{"step": "tell", "action": "Tell the control room"}})
}

// Plan is a plan of the case: proofs and phasings are checks, all else plain steps. Item
// n is called sN, counted from 1.
func (c Case) Plan() ([]byte, error) {
	var steps []object
	for i, s := range c.Steps {
		steps = append(steps, c.item(fmt.Sprintf("s%d", i+1), s))
	}
	return c.plan(steps)
}

func (c Case) item(id string, s Step) object {
	planned := fmt.Sprint(s.At, " min")
	switch s.Act {
	case "prove-dead":
		given := object{"source": "unit", "system_voltage": "11 kV", "neutral": false, "tester": "high"}
		if slices.Contains(c.Network.Low, s.Node) {
			given = object{"source": "unit", "system_voltage": "400 V", "neutral": true, "tester": "low"}
		}
		return object{"check": id, "kind": "prove-dead", "node": s.Node, "planned": planned, "given": given}
	case "phasing-passed":
		return object{"check": id, "kind": "cross-volts", "device": s.Device, "instrument": "dmm", "planned": planned, "live_from": "the rest of the board",
			"given": object{"side_a": "one side", "side_b": "the other", "device": s.Device, "neutrals_tied": true, "nominal": "400 V"}}
	}
	out := object{"step": id, "act": s.Act, "planned": planned}
	for key, value := range map[string]string{"device": s.Device + s.From + s.To, "source": s.Source, "document": s.Document, "key": s.Key, "lock": s.Lock, "type": s.Type} {
		if value != "" {
			out[key] = value
		}
	}
	for key, list := range map[string][]string{"drops": s.Drops, "nodes": s.Nodes} {
		if len(list) > 0 {
			out[key] = list
		}
	}
	return out
}

func (c Case) plan(steps []object) ([]byte, error) {
	return json.Marshal(object{"handback": 1, "id": "case", "title": "a case", "site": "nowhere", "work": "none",
		"people": []object{{"id": "a", "name": "A", "role": "technician"}}, "network": c.drawing(), "steps": steps,
		"instruments": []object{
			{"id": "high", "name": "HV voltage detector", "serial": "1", "due": "2030-01-01", "rated_from": "1 kV", "rated_to": "12 kV"},
			{"id": "low", "name": "two-pole voltage detector", "serial": "2", "due": "2030-01-01", "category": "IV", "rated_from": "12 V", "rated_to": "1000 V"},
			{"id": "unit", "name": "proving unit", "serial": "3", "due": "2030-01-01", "rated_to": "11 kV"},
			{"id": "dmm", "name": "multimeter", "serial": "4", "due": "2030-01-01", "category": "IV", "ranges": []object{{"to": "1000 V", "resolution": "0.1 V", "reading": "0.5 %", "digits": 3}}},
		}})
}

// drawing is the network in the keys of a plan; nodes, sources and devices have no names
// but their ids.
func (c Case) drawing() object {
	nodes, devices, interlocks, keys := []object{}, []object{}, []object{}, []object{}
	for _, id := range c.Network.Nodes {
		n := object{"id": id, "low": slices.Contains(c.Network.Low, id)}
		if load := c.Network.Loads[id]; load != "" {
			n["load"] = load
		}
		nodes = append(nodes, n)
	}
	for _, d := range c.Network.Devices {
		d, s := maps.Clone(d), c.Start[d["id"].(string)]
		d["position"] = s.Pos
		if s.Place != "" && s.Place != "service" {
			d["place"] = s.Place
		}
		if len(s.Locks) > 0 {
			d["locks"] = s.Locks
		}
		devices = append(devices, d)
	}
	for _, i := range c.Network.Interlocks {
		needs := object{}
		for key, value := range i.Needs {
			needs[map[string]string{"device": "device", "pos": "position", "place": "place"}[key]] = value
		}
		interlocks = append(interlocks, object{"device": i.Device, "act": i.Act, "needs": needs})
	}
	for _, k := range c.Network.Keys {
		free := []object{}
		for d, state := range k.Free {
			key := "place"
			if state == "open" || state == "closed" {
				key = "position"
			}
			free = append(free, object{"device": d, key: state})
		}
		keys = append(keys, object{"id": k.ID, "home": k.Home, "free": free})
	}
	return object{"nodes": nodes, "sources": c.Network.Sources, "devices": devices, "interlocks": interlocks, "keys": keys,
		"proved_for": fmt.Sprint(c.Network.Life["proved"], " min"), "phased_for": fmt.Sprint(c.Network.Life["phased"], " min")}
}
