// Package rig is for tests: jobs told entry by entry in record books of their own, with
// the plans, keys and pictures they need.
package rig
