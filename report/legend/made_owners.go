//go:build postgres

package legend

const ownersBuild = true
