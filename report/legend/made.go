package legend

import (
	"maps"
	"slices"
	"strings"

	"handback"
	"handback/templates"
)

// Made is the file that tells what a bag was made with. It hangs on the program and not on
// the job, so that it is not compared when a bag is verified.
const Made = "MADE-WITH.txt"

// licences are those of the modules that are linked, by their SPDX identifiers; a test
// holds them against the texts that come with the modules.
var licences = map[string]string{
	"dario.cat/mergo":                      "BSD-3-Clause",
	"github.com/Masterminds/goutils":       "Apache-2.0",
	"github.com/Masterminds/semver/v3":     "MIT",
	"github.com/Masterminds/sprig/v3":      "MIT",
	"github.com/adrg/xdg":                  "MIT",
	"github.com/dustin/go-humanize":        "MIT",
	"github.com/google/uuid":               "BSD-3-Clause",
	"github.com/gowebpki/jcs":              "Apache-2.0",
	"github.com/hiddeco/sshsig":            "Apache-2.0",
	"github.com/huandu/xstrings":           "MIT",
	"github.com/inconshreveable/mousetrap": "Apache-2.0",
	"github.com/mattn/go-isatty":           "MIT",
	"github.com/mitchellh/copystructure":   "MIT",
	"github.com/mitchellh/reflectwalk":     "MIT",
	"github.com/ncruces/go-strftime":       "MIT",
	"github.com/remyoudompheng/bigfft":     "BSD-3-Clause",
	"github.com/richardlehane/mscfb":       "Apache-2.0",
	"github.com/richardlehane/msoleps":     "Apache-2.0",
	"github.com/shopspring/decimal":        "MIT",
	"github.com/spf13/cast":                "MIT",
	"github.com/spf13/cobra":               "Apache-2.0",
	"github.com/spf13/pflag":               "BSD-3-Clause",
	"github.com/tiendc/go-deepcopy":        "MIT",
	"github.com/xuri/efp":                  "BSD-3-Clause",
	"github.com/xuri/excelize/v2":          "BSD-3-Clause",
	"github.com/xuri/nfp":                  "BSD-3-Clause",
	"go.yaml.in/yaml/v3":                   "MIT AND Apache-2.0",
	"golang.org/x/crypto":                  "BSD-3-Clause",
	"golang.org/x/mod":                     "BSD-3-Clause",
	"golang.org/x/net":                     "BSD-3-Clause",
	"golang.org/x/sys":                     "BSD-3-Clause",
	"golang.org/x/term":                    "BSD-3-Clause",
	"golang.org/x/text":                    "BSD-3-Clause",
	"modernc.org/libc":                     "BSD-3-Clause",
	"modernc.org/mathutil":                 "BSD-3-Clause",
	"modernc.org/memory":                   "BSD-3-Clause",
	"modernc.org/sqlite":                   "BSD-3-Clause",
	"rsc.io/qr":                            "BSD-3-Clause",
}

// ownersLicences are those of the modules that an owner's build links beside them, for
// archives on servers and bags in buckets.
var ownersLicences = map[string]string{
	"github.com/cespare/xxhash/v2":   "MIT",
	"github.com/jackc/pgpassfile":    "MIT",
	"github.com/jackc/pgservicefile": "MIT",
	"github.com/jackc/pgx/v5":        "MIT",
	"github.com/jackc/puddle/v2":     "MIT",
	"github.com/klauspost/compress":  "BSD-3-Clause AND Apache-2.0 AND MIT",
	"github.com/klauspost/cpuid/v2":  "MIT",
	"github.com/klauspost/crc32":     "BSD-3-Clause",
	"github.com/minio/crc64nvme":     "Apache-2.0",
	"github.com/minio/md5-simd":      "Apache-2.0",
	"github.com/minio/minio-go/v7":   "Apache-2.0",
	"github.com/philhofer/fwd":       "MIT",
	"github.com/rs/xid":              "MIT",
	"github.com/tinylib/msgp":        "MIT",
	"github.com/zeebo/xxh3":          "BSD-2-Clause",
	"golang.org/x/sync":              "BSD-3-Clause",
	"gopkg.in/ini.v1":                "Apache-2.0",
}

// Module is one that is linked, with its licence by its SPDX identifier.
type Module struct {
	Path    string `json:"path"`
	Version string `json:"version"`
	Licence string `json:"licence"`
}

// Modules are those that are linked, by their paths.
func Modules() []Module {
	linked := maps.Clone(licences)
	if ownersBuild {
		maps.Copy(linked, ownersLicences)
	}
	return modulesOf(linked)
}

func modulesOf(licences map[string]string) []Module {
	versions := map[string]string{}
	for line := range strings.Lines(handback.Modules) {
		if words := strings.Fields(strings.TrimPrefix(strings.TrimSpace(line), "require ")); len(words) > 1 {
			versions[words[0]] = words[1]
		}
	}
	var out []Module
	for _, path := range slices.Sorted(maps.Keys(licences)) {
		out = append(out, Module{path, versions[path], licences[path]})
	}
	return out
}

// Licence is that of this program, in full.
func Licence() string { return handback.License }

// MadeWith is the text of Made. program calls itself the maker; built says what it was
// built from, "" where that is not known.
func MadeWith(program, built string) ([]byte, error) { return madeWith(program, built, Modules()) }

func madeWith(program, built string, linked []Module) ([]byte, error) {
	var rows [][]string
	for _, m := range linked {
		rows = append(rows, []string{m.Path, m.Version, m.Licence})
	}
	text, err := templates.Report("made-with", map[string]string{"Program": program, "Built": built, "Modules": columns(2, rows), "License": Licence()}, nil)
	return []byte(strings.TrimLeft(text, "\n")), err
}
