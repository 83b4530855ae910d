package checks

// What external tests see beside the exported names.
var (
	Mentions = mentions
	Unread   = unread
)
