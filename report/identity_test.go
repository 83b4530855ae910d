package report_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"handback/report"
	"handback/testdata/demo"
	"handback/testdata/rig"
)

// The identity says what the plan gives, in its own order, and leaves out what it does
// not give; what is left out and a report needs is told.
func TestDocument_identity(t *testing.T) {
	said := func(d *report.Document) (out []string) {
		for _, x := range d.Identity {
			out = append(out, fmt.Sprintf("%s|%s|%s|%s", x.Key, x.Of, x.Label, x.Text))
		}
		return out
	}
	d := rig.Of(t, "plan.yaml", demo.Plan).Document(rig.Dawn.Add(26 * time.Hour))
	got := said(d)
	want := []string{
		"title||Title|Return to service of transformer T2 after a tap change",
		"document.number||Document number|TH-LV-0638", "document.revision||Revision|C", "issued||Date of issue|2026-03-03",
		"client.name||Client|Tarnholt Water", "client.address||Client, address|46 Weir Lane, Tarnholt",
		"client.contact||Client, contact|Ines Colvane, plant office, extension 484",
		"tested_by.name||Tested by|Fenmark Services", "tested_by.address||Tested by, address|Unit 25, Kiln Yard, Fenmark",
		"tested_by.contact||Tested by, contact|Jonas Averbek, test office",
		"site||Site|Tarnholt pumping station, main LV board", "site_address||Address of the site|Pump Road 38, Tarnholt",
	}
	if diff := cmp.Diff(want, got[:len(want)]); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	for _, line := range []string{
		"drawing||Drawing|single-line diagram 7-86, revision A", "order||Order|TW-5044", "method_statement||Method statement|MS-26-084, revision A",
		"transformer.maker|T2|Maker|Brenloch Coil Works", "transformer.serial|T2|Serial number|BCW-21413", "transformer.year|T2|Year of make|2002",
		"transformer.asset|T2|Asset number|TH-TR-26", "transformer.rating|T2|Rating|400 kVA", "transformer.group|T2|Vector group|Dyn1",
		"transformer.tap|T2|Tap before the work|1", "board.name|MB|Board|MB, main LV board", "board.serial|MB|Serial number|SP-6110",
	} {
		if !slices.Contains(got, line) {
			t.Errorf("%q is not said", line)
		}
	}
	if len(d.Lacks) > 0 {
		t.Errorf("the demo lacks %v", d.Lacks)
	}
	reached := strings.Replace(string(demo.Plan), `contact: "Jonas Averbek, test office"`, `contact: Jonas Averbek, phone: "01632 960214", email: office@fenmark.example`, 1)
	if line := "tested_by.contact||Tested by, contact|Jonas Averbek, 01632 960214, office@fenmark.example"; !slices.Contains(said(rig.Of(t, "plan.yaml", []byte(reached)).Document(rig.Dawn)), line) {
		t.Errorf("%q is not said", line)
	}
	bare := rig.New(t, "pump.yaml").Document(rig.Dawn)
	for _, line := range said(bare) {
		if strings.HasPrefix(line, "client") || strings.Contains(line, ".serial") || strings.HasSuffix(line, "|") {
			t.Errorf("a plan that gives no papers says %q", line)
		}
	}
	if len(bare.Lacks) < 5 {
		t.Errorf("a plan that gives no papers lacks %v alone", bare.Lacks)
	}
}

// Papers and plates stand in the handover data; a plan without them has the data it had
// before there were any, to the byte.
func TestHandoverData_papers(t *testing.T) {
	type data struct {
		Papers map[string]any      `json:"papers"`
		Plates []map[string]string `json:"plates"`
	}
	read := func(r *rig.Rig) (out data, text string) {
		d := r.Document(rig.Dawn)
		if err := json.Unmarshal(d.Data, &out); err != nil {
			t.Fatal(err)
		}
		return out, string(d.Data)
	}
	got, _ := read(rig.Of(t, "plan.yaml", demo.Plan))
	want := data{
		Papers: map[string]any{
			"client":       map[string]any{"name": "Tarnholt Water", "address": "46 Weir Lane, Tarnholt", "contact": "Ines Colvane, plant office, extension 484"},
			"tested_by":    map[string]any{"name": "Fenmark Services", "address": "Unit 25, Kiln Yard, Fenmark", "contact": "Jonas Averbek, test office"},
			"site_address": "Pump Road 38, Tarnholt", "drawing": "single-line diagram 7-86, revision A",
			"number": "TH-LV-0638", "revision": "C", "order": "TW-5044", "method_statement": "MS-26-084, revision A"},
		Plates: []map[string]string{
			{"plant": "T1", "maker": "Brenloch Coil Works", "serial": "BCW-58064", "year": "2019", "asset": "TH-TR-40"},
			{"plant": "T2", "maker": "Brenloch Coil Works", "serial": "BCW-21413", "year": "2002", "asset": "TH-TR-26"},
			{"plant": "MB", "maker": "Sandmere Panels", "serial": "SP-6110", "year": "2002", "asset": "TH-BD-28"}},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
	if _, text := read(rig.New(t, "pump.yaml")); strings.Contains(text, `"papers"`) || strings.Contains(text, `"plates"`) {
		t.Error("a plan without papers has them in its data")
	}
}
