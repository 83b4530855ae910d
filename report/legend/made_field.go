//go:build !postgres

package legend

const ownersBuild = false
