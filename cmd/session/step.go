package session

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"handback/checks/network"
	"handback/checks/plan"
	"handback/records/chain"
	"handback/report"
)

// Step finds a step of the plan, a hold point's or a plain one.
func (s *Session) Step(id string) (*plan.Step, error) {
	if st := s.Job.Plan.Step(id); st != nil {
		return st, nil
	}
	return nil, NoSuch("step", id, idsOf(StepIDs(s)), "no step %q in job %s", id, s.Job.ID)
}

// HoldIDs are the hold points of a job's plan.
func HoldIDs(s *Session) []string {
	var out []string
	for _, it := range s.Job.Plan.Items() {
		if it.Hold != nil {
			out = append(out, it.Hold.ID)
		}
	}
	return out
}

// NoInstrument is the error of an instrument that the plan does not have.
func (s *Session) NoInstrument(where, met string) error {
	ids := plan.IDsOf(s.Job.Plan.Meters, func(m plan.Meter) string { return m.ID })
	words := Usagef("no instrument %q in the plan of job %s%s; type: %s", met, s.Job.ID, Meant(met, ids), s.Env.Hint("instruments"))
	return Apart(words, Parts{Code: CodeNoSuch, Where: where, Met: met, Accepted: ids})
}

// PlainStep finds a step of the plan that is no hold point.
func (s *Session) PlainStep(id string) (*plan.Step, error) {
	st, err := s.Step(id)
	if err == nil && s.Job.Plan.Hold(id) != nil {
		return nil, Usagef("%s is a hold point: it holds until its step is done, or the plan is changed", id)
	}
	return st, err
}

// StepDraft is the entry that says a step was done, with what did says of it; or why it
// cannot be recorded: something above is open, a rule refuses it, a second person is
// wanted, the time does not fit.
func (s *Session) StepDraft(st *plan.Step, did report.Stepped, typed string) (chain.Draft, error) {
	if _, done := s.Job.Steps[st.ID]; done && !s.Job.Redoable(st) {
		err := fmt.Errorf("the step %s was recorded as done before; when it was undone since, record that with: %s", st.ID, s.Env.Hint("undone", s.Job.ID, st.ID, "--why", "WHY"))
		return chain.Draft{}, Apart(err, Parts{Code: CodeDone, Where: "step", Met: st.ID})
	}
	at, err := s.Moment(typed)
	if err != nil {
		return chain.Draft{}, err
	}
	if above := s.Job.StepBefore(st.ID); above != nil {
		return chain.Draft{}, s.behind(st, above)
	}
	if err := s.fits(st, at); err != nil {
		return chain.Draft{}, err
	}
	h := s.Job.Plan.Hold(st.ID)
	if did.Lock != "" && st.Lock == "" {
		return chain.Draft{}, Usagef("step %s is about no lock", st.ID)
	}
	did.Action, did.Taken = st.Action, at.Format(time.RFC3339)
	if did.Lock = s.Job.LockOf(st, did); did.Lock == st.Lock {
		did.Lock = "" // as the plan has it
	}
	if did.Step = st.ID; h != nil {
		did.Hold, did.Step = st.ID, ""
		if err := s.freed(h, at); err != nil {
			return chain.Draft{}, err
		}
	} else if err := s.Job.Held(st); err != nil {
		return chain.Draft{}, err
	}
	did.Instructed, did.Confirmed = s.someone(did.Instructed), s.someone(did.Confirmed)
	if err := s.asPlanned(st, did); err != nil {
		return chain.Draft{}, err
	}
	if refused := s.Job.Refusals(st, did, at); len(refused) > 0 {
		err := fmt.Errorf("step %s must not be done now: %s", st.ID, s.refused(st, "done", refused))
		return chain.Draft{}, Apart(err, Parts{Code: CodeRule, Where: "step", Met: st.ID, Each: rulesOf(refused)})
	}
	return chain.Draft{Kind: report.EntryStep, Data: did}, nil
}

// asPlanned holds what is said of a step to what the plan wants said of it.
func (s *Session) asPlanned(st *plan.Step, did report.Stepped) error {
	if why := s.Job.Unconfirmed(did.Confirmed, s.By); st.Confirm && why != "" {
		return fmt.Errorf("step %s: %s: name them with --confirmed WHO", st.ID, why)
	}
	if did.Key != "" && st.Key == "" {
		return Usagef("step %s is about no key", st.ID)
	}
	return s.overriding(st, did.Overrides, s.Job.Refusals(st, report.Stepped{Lock: did.Lock}, s.Env.Now()))
}

// overriding says why overrides cannot be taken: nobody may, no reason is given, or none of
// the refusals is of the rule.
func (s *Session) overriding(st *plan.Step, overrides []network.Override, refused []network.Refusal) error {
	for _, o := range overrides {
		if !slices.Contains(st.Leave, o.Rule) {
			return fmt.Errorf("the plan lets nobody override %s at step %s", o.Rule, st.ID)
		}
		if err := plan.Reasoned(o.Reason); err != nil {
			return fmt.Errorf("why rule %s is overridden is wanted: %w", o.Rule, err)
		}
		if !slices.ContainsFunc(refused, func(r network.Refusal) bool { return r.Rule == o.Rule }) {
			return fmt.Errorf("step %s does not break the rule %s: there is nothing to override", st.ID, o.Rule)
		}
	}
	return nil
}

// refused are the refusals of a step in words, with what to type where the plan lets
// somebody override one.
func (s *Session) refused(st *plan.Step, command string, refused []network.Refusal) string {
	var out []string
	for _, r := range refused {
		text := fmt.Sprintf("%s: %s", r.Rule, report.RefusalWords(s.Job.Plan, r))
		if with := s.OverrideLine(st, command, r); with != "" {
			text += "; with: " + with
		}
		out = append(out, text)
	}
	return strings.Join(out, "\n")
}

// SayOverridden tells the rules that somebody took upon them to override.
func (s *Session) SayOverridden(rules []network.Refusal) {
	for _, r := range rules {
		fmt.Fprintf(s.Env.Out, "OVERRIDDEN, rule %s: %s\n", r.Rule, strings.TrimSpace(report.RefusalWords(s.Job.Plan, r)))
	}
}

// OverrideLine is what to type to override a refusal of a step, "" where nobody may: in a
// walk its own line, else the command.
func (s *Session) OverrideLine(st *plan.Step, command string, r network.Refusal) string {
	with := OverrideFlags(r)
	switch {
	case with == nil || !slices.Contains(st.Leave, r.Rule):
		return ""
	case s.Walking && command == "done":
		return fmt.Sprintf("done override %s WHY", r.Rule)
	}
	return s.Env.Hint(append([]string{command, s.Job.ID, st.ID, "--override", string(r.Rule)}, with...)...)
}

// OverrideFlags are the flags that an override of a refusal takes, nil where nobody may.
func OverrideFlags(r network.Refusal) []string {
	switch r.Authority {
	case network.Person, network.PlanWord:
		return []string{"--why", "WHY"}
	case network.InControl:
		return []string{"--why", "WHY", "--in-control", "WHO"}
	case network.Indicator:
		return []string{"--why", "WHY", "--indicator", "WHICH", "--live-before", "--live-after"}
	}
	return nil
}

// UndoDraft is the entry that says a step was undone, with the rules that somebody takes
// upon them to override, or why it cannot be recorded.
func (s *Session) UndoDraft(st *plan.Step, typed, why string, overrides []network.Override) (chain.Draft, error) {
	done, err := s.Moment(typed)
	if err != nil {
		return chain.Draft{}, err
	}
	if err := s.Job.Undoable(st); err != nil {
		return chain.Draft{}, err
	}
	if err := s.overriding(st, overrides, s.Job.UndoRefusals(st, nil, done)); err != nil {
		return chain.Draft{}, err
	}
	if refused := s.Job.UndoRefusals(st, overrides, done); len(refused) > 0 {
		return chain.Draft{}, fmt.Errorf("the step %s cannot be undone now: %s", st.ID, s.refused(st, "undone", refused))
	}
	if err := plan.Reasoned(why); err != nil {
		return chain.Draft{}, fmt.Errorf("why the step %s was undone is wanted: %w", st.ID, err)
	}
	if step := s.Job.Steps[st.ID]; done.Before(step.Taken) && !s.Env.Now().Before(step.At) { // unless the clock was set back since
		return chain.Draft{}, fmt.Errorf("undone at %s, but the step was done at %s", done.Format("15:04:05"), step.Taken.Format("15:04:05"))
	}
	data := report.Undone{Step: st.ID, Done: done.Format(time.RFC3339), Why: why, Overrides: overrides}
	if s.Job.Plan.Hold(st.ID) != nil {
		data.Hold, data.Step = st.ID, ""
	}
	return chain.Draft{Kind: report.EntryUndo, Data: data}, nil
}

// LeftDraft is the entry that says a plain step is left, or why it cannot be recorded.
func (s *Session) LeftDraft(st *plan.Step, why string) (chain.Draft, error) {
	if is, done := s.Job.Steps[st.ID]; done {
		return chain.Draft{}, fmt.Errorf("the step %s was done at %s: it cannot be left", st.ID, is.Taken.Format("15:04:05"))
	}
	if above := s.Job.StepBefore(st.ID); above != nil {
		return chain.Draft{}, s.behind(st, above)
	}
	if err := plan.Reasoned(why); err != nil {
		return chain.Draft{}, fmt.Errorf("why the step %s is left is wanted: %w", st.ID, err)
	}
	return chain.Draft{Kind: report.EntryLeft, Data: report.NotDone{Step: st.ID, Why: why}}, nil
}

// FoundDraft is the entry that says how a device was found to stand, or why it cannot be
// recorded. What said leaves out stands as recorded.
func (s *Session) FoundDraft(device string, said []string, typed, why string) (chain.Draft, error) {
	is, ok := s.Job.StandingOf(device)
	if !ok && s.Job.Plan.Network == nil {
		return chain.Draft{}, fmt.Errorf("the plan of job %s has no network: what was found is a note, with: %s", s.Job.ID, s.Env.Hint("walk", s.Job.ID))
	}
	if !ok {
		ids := plan.IDsOf(s.Job.Plan.Network.Devices, func(d plan.Device) string { return d.ID })
		return chain.Draft{}, NoSuch("device", device, ids, "no device %q in the network of job %s", device, s.Job.ID)
	}
	if err := plan.Reasoned(why); err != nil {
		return chain.Draft{}, fmt.Errorf("why %s stands otherwise, or what happened, is wanted: %w", device, err)
	}
	seen, err := s.Moment(typed)
	if err != nil {
		return chain.Draft{}, err
	}
	d := report.FoundSo{Device: device, Position: string(is.Pos), Place: string(is.Place), Locks: append([]string{}, is.Locks...), Seen: seen.Format(time.RFC3339), Why: why}
	for _, word := range said {
		if err := foundWord(&d, word); err != nil {
			return chain.Draft{}, err
		}
	}
	return chain.Draft{Kind: report.EntryFound, Data: d}, nil
}

func foundWord(d *report.FoundSo, word string) error {
	key, value, ok := strings.Cut(word, "=")
	positions, places := []string{"open", "closed", "unknown"}, []string{"service", "test", "withdrawn"}
	switch {
	case ok && key == "position" && slices.Contains(positions, value):
		d.Position = value
	case ok && key == "place" && slices.Contains(places, value):
		d.Place = value
	case ok && key == "locks":
		d.Locks = []string{}
		for _, l := range strings.Split(value, ",") {
			if l = strings.TrimSpace(l); l != "" {
				d.Locks = append(d.Locks, l)
			}
		}
	default:
		return Usagef("%q: position=%s, place=%s or locks=NUMBER,NUMBER (locks= for none)", word, strings.Join(positions, "|"), strings.Join(places, "|"))
	}
	return nil
}

// UsedWords name the lock and the key of a step that are not the plan's, "" for none.
func UsedWords(is report.Step) string {
	text := ""
	if is.Did.Lock != "" {
		text += ", lock " + is.Did.Lock
	}
	if is.Did.Key != "" {
		text += ", key " + is.Did.Key
	}
	return text
}

// PrintStep tells how a plain step stands and whether it may be done. The plant is told
// where the step is refused, and where two people look.
func (s *Session) PrintStep(st *plan.Step, position string) (free bool) {
	s.PrintAct(st, position)
	s.PrintRemarks(st.ID)
	refused := s.Job.Refusals(st, report.Stepped{}, s.Env.Now())
	if st.Confirm || len(refused) > 0 {
		s.PrintPlant(st)
	}
	for _, r := range refused {
		fmt.Fprintln(s.Env.Out, Wrapped(fmt.Sprintf("! %s: %s", r.Rule, report.RefusalWords(s.Job.Plan, r)), "  ", s.Env.Width()))
	}
	s.printOverrides(st, refused)
	return len(refused) == 0
}

// printOverrides tells what to type where the plan lets somebody override a rule.
func (s *Session) printOverrides(st *plan.Step, refused []network.Refusal) {
	for _, r := range refused {
		if line := s.OverrideLine(st, "done", r); line != "" {
			fmt.Fprintln(s.Env.Out, Wrapped("the plan lets it be overridden, with a reason: "+line, "  ", s.Env.Width()))
		}
	}
}

// PrintAct tells a plain step in a line, with what the plan says of it beside its act.
func (s *Session) PrintAct(st *plan.Step, position string) {
	fmt.Fprintln(s.Env.Out, headed(position, "step "+st.ID, st, s.Env.Width()))
	if st.Note != "" {
		fmt.Fprintln(s.Env.Out, Wrapped(st.Note, "  ", s.Env.Width()))
	}
}

// headed is the heading of a step, with what the plan says of it beside its act; in fewer
// words where that saves a line.
func headed(position, name string, st *plan.Step, width int) string {
	text := func(name, section, confirm string) string {
		var said []string
		if follows := st.Follows.Words; follows != "" {
			said = append(said, strings.Replace(follows, "section ", section, 1))
		}
		if st.Confirm {
			said = append(said, confirm)
		}
		line := fmt.Sprintf("[%s] %s: %s", position, name, st.Action)
		if len(said) > 0 {
			line += " (" + strings.Join(said, "; ") + ")"
		}
		return line
	}
	whole := text(name, "section ", "a second person confirms")
	for _, shorter := range []string{whole, text(name, "section ", "two persons"), text(name, "", "two persons"), text(strings.TrimPrefix(name, "step "), "", "two persons")} {
		if len([]rune(shorter)) <= width {
			return shorter
		}
	}
	return Wrapped(whole, "", width)
}

// PrintPlant tells how the plant stands that a step is about: its device and the nodes at
// its ends, or the nodes of its document.
func (s *Session) PrintPlant(st *plan.Step) {
	if lines := s.Job.PlantAt(st, s.Env.Now()); len(lines) > 0 {
		fmt.Fprintln(s.Env.Out, Wrapped("plant: "+strings.Join(lines, "; "), "  ", s.Env.Width()))
	}
}
