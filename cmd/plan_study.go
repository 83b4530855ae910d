package cmd

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"handback/checks/kinds"
)

// printStudy prints a paralleling study as an engineer reads it.
func printStudy(w io.Writer, s kinds.Study) error {
	fmt.Fprintf(w, "\nparalleling study of %s and %s, from nameplate data alone (limits: %s)\n\n", s.A, s.B, s.Limits)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, f := range s.Findings {
		mark := "holds"
		if !f.OK {
			mark = "OUT"
		}
		fmt.Fprintf(tw, "  %s\t%s\t%s\t%s\n", mark, f.Name, f.Text, f.Source)
	}
	if len(s.Shares) > 0 {
		fmt.Fprintf(tw, "\n  share of load, power factor 0.8 lagging assumed; ± as impedances and power factor may be\n  load\tA\t%s\t%% of rated\t%s\t%% of rated\n", s.A, s.B)
	}
	for _, l := range s.Shares {
		fmt.Fprintf(tw, "  %g %%\t%.0f\t%.0f ± %.0f A\t%s\t%.0f ± %.0f A\t%s\n", l.LoadPct, l.LoadA, l.A, l.AU, overload(l.APct), l.B, l.BU, overload(l.BPct))
	}
	if len(s.Faults) > 0 {
		fmt.Fprintf(tw, "\n  fault level of %s (IEC 60909-0, motors left out; ± as impedances may be)\n", s.Faults[0].Board)
	}
	for _, f := range s.Faults {
		fmt.Fprintf(tw, "  %s\t%.2f ± %.1f kA\tpeak %.2f ± %.1f kA\tκ %.2f\t%s\n", f.In, f.InitialA/1e3, f.InitialU/1e3, f.PeakA/1e3, f.PeakU/1e3, f.Kappa, withstand(f))
	}
	if len(s.Volts) > 0 {
		fmt.Fprint(tw, "\n  volts at no load over the expected HV volts\n  tap\tlowest\tusual\thighest\n")
	}
	for _, v := range s.Volts {
		fmt.Fprintf(tw, "  %s on %s\t%.1f\t%.1f\t%.1f V\n", v.Transformer, v.Tap, v.Low, v.Usual, v.High)
	}
	if err := tw.Flush(); err != nil {
		return err
	}
	for _, c := range s.Cautions {
		fmt.Fprintf(w, "  caution: %s\n", c)
	}
	for _, why := range s.NotWorked {
		fmt.Fprintf(w, "  not worked out: %s\n", why)
	}
	return printTaps(w, s)
}

func overload(pct float64) string {
	if pct > 100 {
		return fmt.Sprintf("%.1f OVERLOADED", pct)
	}
	return fmt.Sprintf("%.1f", pct)
}

func withstand(f kinds.StudyFault) string {
	switch {
	case f.ShortTime == nil || f.Peak == nil:
		return "the plan gives no withstand of " + f.Board
	case f.OK:
		return fmt.Sprintf("holds: %g kA, peak %g kA", *f.ShortTime/1e3, *f.Peak/1e3)
	}
	return fmt.Sprintf("OVER %g kA or peak %g kA", *f.ShortTime/1e3, *f.Peak/1e3)
}

// printTaps prints the table of circulating currents. Pairs that are not allowed
// stand in brackets, so that the allowed region is plain to see.
func printTaps(w io.Writer, s kinds.Study) error {
	fmt.Fprintf(w, "\n  circulating current at no load, %% of the smaller rated current; rows %s, columns %s\n", s.A, s.B)
	if s.Taps.Allowed != nil {
		fmt.Fprintf(w, "  in brackets: above the %g %% allowed\n", *s.Taps.Allowed)
	} else {
		fmt.Fprintln(w, "  no check of the plan sets a limit")
	}
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintf(tw, "  tap\t%s\t\n", strings.Join(s.Taps.B, "\t"))
	for i, row := range s.Taps.Pct {
		fmt.Fprintf(tw, "  %s\t", s.Taps.A[i])
		for _, pct := range row {
			if s.Taps.Allowed != nil && pct > *s.Taps.Allowed {
				fmt.Fprintf(tw, "(%.1f)\t", pct)
			} else {
				fmt.Fprintf(tw, "%.1f\t", pct)
			}
		}
		fmt.Fprintln(tw)
	}
	return tw.Flush()
}
