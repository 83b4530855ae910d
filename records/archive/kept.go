package archive

import (
	"reflect"
	"slices"
)

// Bag is a bag that was taken. Bags are only added.
type Bag struct {
	Number  int    `json:"number" title:"in the order they were taken, from 1"`
	Job     string `json:"job" title:"identifier of the job"`
	Head    string `json:"head" title:"hash of the newest entry"`
	Entries int    `json:"entries" title:"number of entries"`
	SHA256  string `json:"sha256" title:"of the bytes of the bag, and name of its file"`
	Bytes   int64  `json:"bytes" title:"length of the bag"`
	Taken   string `json:"taken" is:"moment" title:"when it was taken"`
	Name    string `json:"name" title:"what it was called where it was taken from"`
	Policy  int    `json:"policy" title:"number of the policy that it was held against"`
	Partly  bool   `json:"partly" title:"not all in it could be compared, as words of another version of the program"`
	Hashes  []byte `json:"hashes" title:"hashes of its entries, 32 bytes each"`
}

// Refused is a bag in quarantine. Judged again under another policy it may stand here
// twice, or have been taken since.
type Refused struct {
	Number  int    `json:"number" title:"in the order they were refused, from 1"`
	SHA256  string `json:"sha256" title:"of its bytes, and name of its file"`
	Bytes   int64  `json:"bytes" title:"length"`
	Taken   string `json:"taken" is:"moment" title:"when it was refused"`
	Name    string `json:"name" title:"what it was called where it came from"`
	Policy  int    `json:"policy" title:"number of the policy that it was held against"`
	Job     string `json:"job" title:"identifier of the job, as far as its record could be followed"`
	ID      string `json:"id" title:"what the job calls itself, likewise"`
	Head    string `json:"head" title:"hash of the newest entry, likewise"`
	Reasons string `json:"reasons" title:"why, a line each"`
}

// Part is a file of a policy.
type Part struct {
	Number int    `json:"number" title:"of the policy, from 1"`
	Part   string `json:"part" title:"what it is of the policy"`
	Since  string `json:"since" is:"moment" title:"when it came into force"`
	Name   string `json:"name" title:"what the file is called"`
	Body   []byte `json:"body" title:"the file"`
}

// PartPolicy is the policy itself; the other parts are the files it names.
const PartPolicy = "policy"

// elsewhere is where the bags of an archive lie that do not lie beside its rows. The newest
// holds: servers are moved over decades, and every bag is found by its hash.
type elsewhere struct {
	Number int    `json:"number" title:"in the order it was said, from 1"`
	URL    string `json:"url" title:"of the bucket, and what all names in it begin with"`
	Since  string `json:"since" is:"moment" title:"when it was said"`
}

// mark is the one row of the table archive.
type mark struct {
	Version int `json:"version" title:"of the tables"`
}

var (
	marked     = keptTable("archive", mark{}, "version")
	files      = keptTable("files", shelved{}, "sha256", "place")
	bags       = keptTable("bags", Bag{}, "number")
	quarantine = keptTable("quarantine", Refused{}, "number")
	policies   = keptTable("policies", Part{}, "number", "part")
	keptTables = []*Table{bags, quarantine, policies, logKeys, leaves, logHashes, removals, keeps}

	// An archive with its bags in a bucket has a table more.
	buckets        = keptTable("buckets", elsewhere{}, "number")
	keptWithBucket = append(slices.Clip(keptTables), buckets)
)

func keptTable(name string, row any, key ...string) *Table {
	t := reflect.TypeOf(row)
	return &Table{Name: name, Key: key, Columns: columnsOf(t), row: t}
}
