// Package switching tells what the dry run of a plan leads to, step by step, and lays the
// steps out as the list of switching for the person in control: as text, and as a sheet
// with columns to fill. It judges nothing: what is refused, and why, comes from the plan.
package switching
