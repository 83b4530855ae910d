package cmd

import (
	"github.com/spf13/pflag"

	"handback/checks/network"
	"handback/cmd/session"
)

// override is what is said of the rules that somebody takes upon them to override.
type override struct {
	rules     []string
	taken     network.Override // what is said of each
	inControl string
}

func (o *override) flags(f *pflag.FlagSet) {
	f.StringArrayVar(&o.rules, "override", nil, "name of a rule that is overridden; may be repeated")
	f.StringVar(&o.inControl, "in-control", "", "the person in control, who takes it upon them")
	f.StringVar(&o.taken.Indicator, "indicator", "", "the built-in indicator that stands for the proof of dead")
	f.BoolVar(&o.taken.LiveBefore, "live-before", false, "the indicator showed live before, on plant known to be live")
	f.BoolVar(&o.taken.LiveAfter, "live-after", false, "and again after")
}

// named refuses words about an override without the rule, and an override by whom the
// environment alone names: it binds a person.
func (o *override) named(env *session.Env, by string) error {
	if o.rules != nil && by == "" && o.inControl == "" && env.By != "" {
		return session.Usagef("say who takes the override upon them: --by WHO, or --in-control PERSON; HANDBACK_BY does not say it")
	}
	if o.rules == nil && (o.taken != network.Override{} || o.inControl != "") {
		return session.Usagef("--why, --in-control and --indicator say why a rule is overridden: name it with --override RULE")
	}
	return nil
}

// all are the overrides, taken by a person unless the person in control takes them.
func (o *override) all(by string) []network.Override {
	o.taken.Person = by
	if o.inControl != "" {
		o.taken.Person, o.taken.InControl = o.inControl, true
	}
	var out []network.Override
	for _, rule := range o.rules {
		o.taken.Rule = network.Rule(rule)
		out = append(out, o.taken)
	}
	return out
}
