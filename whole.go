// Package handback is the root of the module: what of it every bag says, as it stands in
// the tree.
package handback

import _ "embed" // of the texts below

// License is the licence of this program, in full.
//
//go:embed LICENSE
var License string

// Modules is go.mod, which names the version of every module that is linked.
//
//go:embed go.mod
var Modules string
