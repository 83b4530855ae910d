//go:build !race

package outside

// Race tells that the race detector is at work, which allocates for itself.
const Race = false
