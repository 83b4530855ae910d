package kinds

import "handback/checks"

// usual is a limit that a plan may give: what stands in where it gives none, and whose
// word that is.
type usual struct {
	limit  float64
	unit   string
	side   func(x float64, source string) *checks.Limit
	source string
}

// usualLimits are by kind and key of what the check is given. Judging, expecting and
// predicting read this table; a test holds the words of the key and the kind's sources
// against it.
var usualLimits = map[string]usual{
	// Equal volts 5° apart bring 100·2·sin(2.5°)/√3 = 5.04 % of the line-to-line volts.
	"cross-volts.limit_share":          {5, "%", checks.AtMost, "5 % of nominal, about 5° apart"},
	"earth-continuity.current":         {0.2, "A", checks.AtLeast, "IEC 61557-4"},
	"load-share.least":                 {50, "%", checks.AtLeast, "our choice"},
	"lv-volts.tolerance":               {1, "%", around, "our choice"},
	"parallel-balance.difference":      {1, "%", around, "our choice"},
	"parallel-balance.impedance_match": {10, "%", checks.AtMost, "common practice"},
	"parallel-balance.rating_ratio":    {3, "", checks.AtMost, "common practice"},
	// Under this load a warm joint may stay cold.
	"thermal.least_load":        {40, "%", checks.AtLeast, "common practice"},
	"winding-resistance.spread": {2, "%", checks.AtMost, "common practice"},
}

// limitOf is the limit a plan gives under a key, or the usual one.
func limitOf[T ~float64](key string, given *T) *checks.Limit {
	u := usualLimits[key]
	if given != nil {
		return u.side(float64(*given), "plan")
	}
	return u.side(u.limit, u.source)
}

// around keeps a value as near to zero on both sides.
func around(x float64, source string) *checks.Limit { return checks.Between(-x, x, source) }
