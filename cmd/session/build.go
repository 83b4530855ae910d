package session

import (
	"cmp"
	"fmt"
	"runtime/debug"
)

// Build is what a program was built from; the zero value where it is not known.
type Build struct {
	Module   string `json:"module"`
	Release  string `json:"module_version"`
	Go       string `json:"go"`
	System   string `json:"system"`
	Revision string `json:"revision"` // of the source, "" where it was built without its history
	At       string `json:"revision_time"`
	Changed  bool   `json:"changed"` // there were changes that the revision does not have
	vcs      string
}

// String tells a build in words, "" where it is not known.
func (b Build) String() string {
	if b.Go == "" {
		return ""
	}
	words := fmt.Sprintf("module %s %s, built with %s", b.Module, b.Release, b.Go)
	if b.Revision != "" {
		words += fmt.Sprintf(" from %s revision %s of %s", b.vcs, b.Revision, b.At)
	}
	if b.Changed {
		words += ", with changes that are not in it"
	}
	return words
}

// built is the build that the Go tools wrote into a program.
func built(info *debug.BuildInfo, ok bool) Build {
	if !ok {
		return Build{}
	}
	said := map[string]string{}
	for _, s := range info.Settings {
		said[s.Key] = s.Value
	}
	return Build{Module: info.Main.Path, Release: cmp.Or(info.Main.Version, "(devel)"), Go: info.GoVersion, System: said["GOOS"] + "/" + said["GOARCH"],
		Revision: said["vcs.revision"], At: said["vcs.time"], Changed: said["vcs.modified"] == "true", vcs: said["vcs"]}
}
