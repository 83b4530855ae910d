package kinds

import (
	"math"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// Band is a pair of limits for volts: a published one, or the plan's own.
type Band struct {
	Standard string         `plan:"standard" one:"IEC 60038|GB 230 V|ANSI C84.1 A|ANSI C84.1 B" doc:"a published band: IEC 60038 (±10 %; to neutral 230 V ±10 % on 400 V), GB 230 V (+10/−6 % on 230 V to neutral), ANSI C84.1 A or B (service voltage)"`
	Low      *quantity.Volt `plan:"low,pos" doc:"lowest volts of the plan's own band"`
	High     *quantity.Volt `plan:"high,pos" doc:"highest volts of the plan's own band"`
	Source   string         `plan:"source" doc:"where the plan's own band comes from"`
}

// shares of nominal of the published bands:
// IEC 60038:2009 ±10 % for 230/400 V systems; The Electricity Safety, Quality and
// Continuity Regulations 2002 (GB) reg. 27, +10/−6 %; ANSI C84.1 service voltage
// range A ±5 % and range B −8.3/+5.8 % of 120 V base (from memory).
var bandShares = map[string][2]float64{
	"IEC 60038":    {0.90, 1.10},
	"GB 230 V":     {0.94, 1.10},
	"ANSI C84.1 A": {0.95, 1.05},
	"ANSI C84.1 B": {110.0 / 120, 127.0 / 120},
}

// limit is the band around a nominal voltage, nil when the plan gives none.
func (b *Band) limit(nominal float64) *checks.Limit {
	if b == nil {
		return nil
	}
	if s, ok := bandShares[b.Standard]; ok {
		return checks.Between(s[0]*nominal, s[1]*nominal, b.Standard)
	}
	l := *checks.AtMost(0, "plan")
	if b.Source != "" {
		l.Source = b.Source
	}
	l.Low, l.High = quantity.OrNaN(b.Low), quantity.OrNaN(b.High)
	return &l
}

// toNeutral are the volts to neutral that IEC 60038:2009 Table 1 names beside nominal
// line-to-line volts (400 V and 690 V seen, the others from memory): rounded, and so
// not their √3rd part.
var toNeutral = map[float64]float64{208: 120, 400: 230, 480: 277, 600: 347, 690: 400}

// phaseLimit is the band of line-to-neutral volts of a system of this nominal
// line-to-line voltage. GB 230 V is drawn around 230 V whatever that is.
func (b *Band) phaseLimit(nominal float64) *checks.Limit {
	around := nominal / math.Sqrt(3)
	switch named, ok := toNeutral[nominal]; {
	case b != nil && b.Standard == "GB 230 V":
		around = 230
	case ok && b != nil && b.Standard == "IEC 60038":
		around = named
	}
	return b.limit(around)
}

// validate says what is wrong with a band given under key.
func (b *Band) validate(key string, say plan.Say) {
	switch {
	case b == nil:
	case b.Standard == "" && b.Low == nil && b.High == nil:
		say(key, "give a standard, or low and high volts")
	case b.Standard != "" && (b.Low != nil || b.High != nil):
		say(key, "give a standard or the plan's own low and high, not both")
	case b.Low != nil && b.High != nil && *b.Low >= *b.High:
		say(key+".low", "%v V is not below high %v V", float64(*b.Low), float64(*b.High))
	}
}
