package seal

import (
	"bytes"
	"fmt"
	"maps"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/records/bag"
	"handback/records/chain"
	"handback/testdata/outside"
	"handback/testdata/rig"
)

var removing = Reduction{At: time.Date(2027, 4, 1, 9, 30, 0, 0, time.UTC), By: "Ida Records", Why: "a visitor is named", Bag: strings.Repeat("a", 64), Program: "handback test"}

// reduce takes something out of a bag.
func reduce(t testing.TB, p pile, how func(*Reduction)) pile {
	t.Helper()
	out, err := tryReduce(t, p, how)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func tryReduce(t testing.TB, p pile, how func(*Reduction)) (pile, error) {
	t.Helper()
	b, err := bag.OpenBag(p.folder(t))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	r, out := removing, pile{}
	how(&r)
	said, err := Reduce(out, b, r)
	if err == nil && !bytes.Equal(said, out[bagRemoved]) {
		t.Errorf("it says %s was removed, the bag %s", said, out[bagRemoved])
	}
	return out, err
}

// attachedAt are the entries of a bag that attached a file of a name.
func attachedAt(p pile, name string) (out []int) {
	for i, line := range strings.Split(string(p[bagEntries]), "\n") {
		if strings.Contains(line, `"name":"`+name+`"`) {
			out = append(out, i+1)
		}
	}
	return out
}

// What was removed is gone from every file of the bag; what is left is held against the
// lists of the whole, and it is never said to be intact.
func TestReduce(t *testing.T) {
	whole := pack(bagRig(t))
	notes, picture := attachedAt(whole, "note.txt"), attachedAt(whole, "bar.jpg")
	if len(notes) != 2 || len(picture) != 1 {
		t.Fatalf("notes %v, picture %v", notes, picture)
	}
	file := bagAttached + chain.HashFile(rig.JpegWith(t, rig.Exif(6))) + "-bar.jpg"
	for name, c := range map[string]struct {
		how  func(*Reduction)
		gone []string // words that stand nowhere any more
		left []string
		told []string
	}{
		"an entry":         {func(r *Reduction) { r.Entries = notes[:1] }, []string{"What the operator wrote", "in order"}, []string{"The same once more", "The earth bar"}, []string{fmt.Sprintf("entry %d, ", notes[0]), "a visitor is named"}},
		"a file alone":     {func(r *Reduction) { r.Files = []string{file} }, []string{"\xff\xd8\xff"}, []string{"The earth bar", "What the operator wrote"}, []string{"-bar.jpg", "by Ida Records"}},
		"plan":             {func(r *Reduction) { r.Files = PlanFiles }, []string{string(whole[bagPlan])}, []string{"What the operator wrote"}, []string{"plan.yaml", "allowed_signers"}},
		"several":          {func(r *Reduction) { r.Entries = []int{2, notes[1], picture[0]} }, []string{"The same once more", "The earth bar"}, []string{"What the operator wrote"}, []string{"entry 2, entry"}},
		"first and newest": {func(r *Reduction) { r.Entries = []int{1, bytes.Count(whole[bagEntries], []byte("\n"))} }, []string{"\"nonce\":\"", "BEGIN SSH SIGNATURE"}, []string{"The earth bar"}, []string{"entry 1, entry"}},
	} {
		p := reduce(t, whole, c.how)
		var all []byte
		for _, content := range p {
			all = append(all, content...)
		}
		for _, w := range c.gone {
			if !bytes.Contains(all, []byte(w)) == bytes.Contains(concat(whole), []byte(w)) {
				continue
			}
			t.Errorf("%s: %q is still there, or never was", name, w)
		}
		for _, w := range c.left {
			if !bytes.Contains(p[bagEntries], []byte(w)) {
				t.Errorf("%s: %q is gone", name, w)
			}
		}
		for n := range p {
			if strings.HasPrefix(n, bagHandover) || strings.HasPrefix(n, bagHanded) {
				t.Errorf("%s: %s is still there", name, n)
			}
		}
		x := examine(t, p.folder(t))
		if len(x.Faults) > 0 || !x.Partly || x.Job != nil || x.Removed == nil {
			t.Errorf("%s: %+v", name, x)
		}
		var hashes bytes.Buffer // of all entries, and what those say that are left
		for i, e := range x.Left {
			fmt.Fprintln(&hashes, i+1, e.Hash)
			if e.Seq != i+1 || (len(e.Body) == 0) != slices.ContainsFunc(x.Removed.Acts[0].Entries, func(r RemovedEntry) bool { return r.Entry == i+1 }) {
				t.Errorf("%s: entry %d is left as %d with %q", name, i+1, e.Seq, e.Body)
			}
		}
		if !bytes.Equal(hashes.Bytes(), whole[bagHashes]) {
			t.Errorf("%s: entries are left as\n%s", name, hashes.Bytes())
		}
		for _, w := range c.told {
			if !strings.Contains(strings.Join(x.Missed, "\n"), w) {
				t.Errorf("%s: %q does not tell %q", name, x.Missed, w)
			}
		}
		for n, content := range p { // in the note too
			if strings.HasPrefix(n, bagAttached) && !bytes.Equal(content, whole[n]) {
				t.Errorf("%s: %s was changed", name, n)
			}
		}
	}
}

func concat(p pile) (out []byte) {
	for _, content := range p {
		out = append(out, content...)
	}
	return out
}

// What is removed later is told beside what was removed before, and the lists stay those
// of the whole bag.
func TestReduce_again(t *testing.T) {
	whole := pack(bagRig(t))
	notes := attachedAt(whole, "note.txt")
	once := reduce(t, whole, func(r *Reduction) { r.Entries = notes[:1] })
	twice := reduce(t, once, func(r *Reduction) { r.Entries, r.Why = notes[1:], "another reason" })
	x := examine(t, twice.folder(t))
	if len(x.Faults) > 0 || len(x.Removed.Acts) != 2 || !strings.Contains(strings.Join(x.Missed, "\n"), "another reason") {
		t.Errorf("%+v", x)
	}
	if !bytes.Equal(twice[wholeLists], whole[bag.ListsList]) || !bytes.Equal(twice[wholeFiles], whole[bag.FilesList]) {
		t.Error("the lists are not those of the whole bag")
	}
	for name, how := range map[string]func(*Reduction){
		"removed before":   func(r *Reduction) { r.Entries = notes[:1] },
		"not there":        func(r *Reduction) { r.Entries = []int{1000} },
		"no such file":     func(r *Reduction) { r.Files = []string{"data/none"} },
		"only documents":   func(r *Reduction) { r.Files = []string{bagText} },
		"nothing":          func(r *Reduction) {},
		"why not said":     func(r *Reduction) { r.Entries, r.Why = []int{2}, "" },
		"who not said":     func(r *Reduction) { r.Entries, r.By = []int{2}, "" },
		"why of two lines": func(r *Reduction) { r.Entries, r.Why = []int{2}, "a\nb" },
	} {
		if _, err := tryReduce(t, once, how); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	spoilt := maps.Clone(whole)
	spoilt[bagText] = []byte("READY\n")
	if _, err := tryReduce(t, spoilt, func(r *Reduction) { r.Files = PlanFiles }); err == nil {
		t.Error("a bag that is not what its lists say was reduced")
	}
}

// Whatever else is done to a reduced bag is a fault, manifests made anew or not.
func TestExamineBag_reducedFaults(t *testing.T) {
	whole := pack(bagRig(t))
	notes := attachedAt(whole, "note.txt")
	good := reduce(t, whole, func(r *Reduction) { r.Entries = notes[:1] })
	lines := strings.SplitAfter(string(good[bagEntries]), "\n")
	note := bagAttached + chain.HashFile([]byte("in order\n")) + "-note.txt"
	swap := func(file, from, to string) func(pile) {
		return func(p pile) {
			if !bytes.Contains(p[file], []byte(from)) {
				t.Fatalf("%s holds no %q", file, from)
			}
			p[file] = bytes.ReplaceAll(p[file], []byte(from), []byte(to))
		}
	}
	left := func(n int) string { // an entry made one that is said to be removed
		e, err := chain.ParseEntry([]byte(strings.TrimSuffix(lines[n-1], "\n")))
		if err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf(`{"hash":"%s","removed":true,"seq":%d,"v":1}`+"\n", e.Hash, n)
	}
	hash := hashOf(t, whole, notes[0])
	for name, c := range map[string]struct {
		change func(pile)
		want   string
	}{
		"nothing":                {func(pile) {}, ""},
		"entry changed":          {swap(bagEntries, `"The same once more"`, `"The same once m0re"`), "is not the entry that data/hashes.txt lists"},
		"another entry gone":     {swap(bagEntries, lines[1], left(2)), "line 2: what is left there is not the entry that was removed"},
		"line gone":              {swap(bagEntries, lines[2], ""), "line 3"},
		"newest lines gone":      {swap(bagEntries, lines[len(lines)-2], ""), "ends after"},
		"line twice":             {swap(bagEntries, lines[len(lines)-2], lines[len(lines)-2]+lines[len(lines)-2]), "lists"},
		"no line":                {func(p pile) { p[bagEntries] = []byte("\n") }, "line 1"},
		"other hash left":        {swap(bagEntries, hash, strings.Repeat("0", 64)), "what is left there is not the entry"},
		"hash listed otherwise":  {swap(bagHashes, hash, strings.Repeat("0", 64)), "data/hashes.txt is not the file that the whole bag held"},
		"hashes gone":            {func(p pile) { delete(p, bagHashes) }, "data/hashes.txt is missing"},
		"plan changed":           {func(p pile) { p[bagPlan] = append([]byte("# \n"), p[bagPlan]...) }, "data/plan.yaml is not the file that the whole bag held"},
		"plan gone":              {func(p pile) { delete(p, bagPlan) }, "data/plan.yaml is missing, and nothing says why"},
		"file back":              {func(p pile) { p[note] = []byte("in order\n") }, note + " is there, though it is said to be removed"},
		"stranger":               {func(p pile) { p["data/run.sh"] = []byte("#!") }, "data/run.sh is not the file that the whole bag held"},
		"not said":               {swap(bagRemoved, note, "data/none"), note + " is missing, and nothing says why"},
		"entry not said":         {swap(bagRemoved, fmt.Sprintf(`"entry":%d`, notes[0]), `"entry":900`), "what is left there is not the entry"},
		"no reason":              {swap(bagRemoved, "a visitor is named", ""), "why is empty"},
		"removed.json otherwise": {swap(bagRemoved, `"v":1`, `"v": 1`), "not in canonical form"},
		"removed.json newer":     {swap(bagRemoved, `"v":1`, `"v":2`), "version 2"},
		"removed.json empty":     {func(p pile) { p[bagRemoved] = []byte(`{"acts":[],"job":"pump-t1-1","v":1}`) }, "it tells of nothing"},
		"removed.json gone":      {func(p pile) { delete(p, bagRemoved) }, "data/entries.jsonl, line"},
		"list changed":           {swap(wholeFiles, "data/plan.yaml", "data/plan.yam1"), "is not the list that"},
		"list gone":              {func(p pile) { delete(p, wholeFiles) }, wholeFiles},
		"head":                   {swap(bag.BagInfoFile, "Record-Head: ", "Record-Head: 0"), "tells of job"},
	} {
		p := maps.Clone(good)
		c.change(p)
		for how, b := range map[string]pile{"manifests as they were": p, "manifests made anew": p.again(t)} {
			x := examine(t, b.folder(t))
			all := strings.Join(x.Faults, "\n")
			if c.want == "" && all != "" || c.want != "" && !strings.Contains(all, c.want) {
				t.Errorf("%s, %s: %q, want %q", name, how, x.Faults, c.want)
			}
			if len(x.Faults) == 0 && !x.Partly {
				t.Errorf("%s, %s: said to be whole", name, how)
			}
		}
	}
}

func hashOf(t *testing.T, p pile, entry int) string {
	t.Helper()
	_, hash, ok := strings.Cut(strings.Split(string(p[bagHashes]), "\n")[entry-1], " ")
	if !ok {
		t.Fatalf("%s has no entry %d", bagHashes, entry)
	}
	return hash
}

// The steps of the note of a reduced bag, typed into a shell, show what it says.
func TestReduce_note(t *testing.T) {
	for _, tool := range []string{"sh", "sha256sum", "sha512sum", "cut", "grep"} {
		outside.Tool(t, tool)
	}
	whole := pack(bagRig(t))
	p := reduce(t, whole, func(r *Reduction) { r.Entries = attachedAt(whole, "note.txt")[:1] })
	dir := p.folder(t)
	var said []string
	for _, step := range regexp.MustCompile(`(?m)^    \S.*$`).FindAllString(string(p[bag.BagNote]), -1) {
		if strings.Contains(step, "SHA-256") {
			continue
		}
		c := exec.Command("sh", "-c", step)
		c.Dir = dir
		out, _ := c.Output() // a file that is gone ends it with a status
		said = append(said, string(out))
	}
	b, err := bag.OpenBag(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	list, err := ListOf(b)
	if err != nil || list != chain.HashFile(whole[bag.ListsList]) {
		t.Errorf("list %s: %v", list, err)
	}
	if len(said) != 5 || said[0] != "" || said[2] != said[3] || len(said[2]) != 129 || said[4] != list+"\n" {
		t.Errorf("%q", said)
	}
	failed := regexp.MustCompile(`(?m)^(\S+): FAILED`).FindAllStringSubmatch(said[1], -1)
	var names []string
	for _, f := range failed {
		names = append(names, f[1])
	}
	want := []string{bagEntries}
	for _, f := range examine(t, dir).Removed.Acts[0].Files {
		want = append(want, f.Name)
	}
	slices.Sort(want)
	if !slices.Equal(names, want) {
		t.Errorf("failed %q, want %q", names, want)
	}
}

// Where words stand is told for whoever decides what has to go, and which files entries
// attached.
func TestPlaces(t *testing.T) {
	whole := pack(bagRig(t))
	notes, picture := attachedAt(whole, "note.txt"), attachedAt(whole, "bar.jpg")
	b, err := bag.OpenBag(whole.folder(t))
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	places, err := Places(b, "the OPERATOR wrote")
	if err != nil || len(places) != 1 || places[0] != (Placed{Entry: notes[0], Kind: chain.KindAttach}) {
		t.Errorf("%+v: %v", places, err)
	}
	places, err = Places(b, "note.txt")
	if err != nil || len(places) != 3 || !strings.HasSuffix(places[2].File, "-note.txt") {
		t.Errorf("%+v: %v", places, err)
	}
	files, err := AttachedFiles(b, picture)
	if err != nil || len(files) != 1 || !strings.HasSuffix(files[0], "-bar.jpg") || whole[files[0]] == nil {
		t.Errorf("%q: %v", files, err)
	}
	if _, err := AttachedFiles(b, []int{1}); err == nil {
		t.Error("the first entry attached a file")
	}
}
