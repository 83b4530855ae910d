package cmd

import (
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/cmd/session"
	"handback/report"
	"handback/testdata/demo"
)

// nineSteps are done before anything of the demo is proved dead.
const nineSteps = "done 08:31 08:32 08:33 08:34 08:35 08:36 08:37 08:38 08:39"

// firstHalf and secondHalf type the first checks of the demo's plan with slips of
// every sort, up to a line that Ctrl-C leaves unfinished and from there on.
func firstHalf(c *console) {
	proof, point := "on the source [live/not live], time [now or 14:05]: ", "L1-E, L2-E, L3-E [not live/live]"
	c.answers("for each: done 14:05 14:06; help: ", nineSteps)
	c.answers(proof, "use det-hvx")
	c.sees(`"det-hvx" is not one of`)
	c.answers(proof, "\x1b[A\x1b[D") // arrow keys
	c.sees("control characters are not read: type plain text")
	c.answers(proof, "use det-hv")
	c.answers(proof, "Live")
	c.sees("stored: proof before, on the source: live")
	c.answers("proof before, time [now or 14:05]: ", "now")
	c.answers(point, "not live, not live, live")
	c.sees("STOP: live: L3-E")
	c.answers("quit to leave: ", "repeat the feeder was opened at the far end")
	c.answers(proof, "live now")
	c.answers(point, "not live, not live, live")
	c.sees("STOP: live: L3-E")
	c.answers("quit to leave: ", "repeat opened at the far end and locked")
	c.answers(proof, "live now")
	c.answers(point, "not live, not live, not live")
	c.answers("time the last point was tested [now or 14:05]: ", "back")
	c.sees("stored before: L1-E: not live, L2-E: not live, L3-E: not live")
	c.answers("Enter to leave it so]: ", "not live, not live, not live")
	c.answers("time the last point was tested [now or 14:05]: ", "now")
	c.answers("[now or 14:05]: ", "live now")
	c.sees("PASS, valid until")

	c.answers("time [now or 14:05], volts [V]: ", "BACK")
	c.sees("go back to dead-hv, to its last line: type why, or Enter to stay here: ")
	c.types("")
	c.answers("time [now or 14:05], volts [V]: ", "live 08:55 0,23 kV")
	c.sees("stored: proof before, volts 230 V (0,23 kV)")
	c.answers("L1-E, L2-E, L3-E, N-E [V] dead; above 50 V stop: ", "note the seal of the  door was open")
	c.sees("noted")
	c.answers("N-E [V] dead; above 50 V stop: ", "0.4 300 mV")
	c.sees("stored: L1-E 0.4 V, L2-E 0.3 V (300 mV)")
	c.answers("L3-E, N-E [V] dead; above 50 V stop: ", "0,4 0,1")
	c.answers("L1-L2, L2-L3, L3-L1 [V] dead; above 50 V stop: ", "0.2 0.2 0.1 0.1")
	c.sees("4 values were typed, 3 are asked")
	c.answers("L3-L1 [V] dead; above 50 V stop: ", "0.2; 0.2; 0.1")
	c.answers("L1-N, L2-N, L3-N [V] dead; above 50 V stop: ", "skip")
	c.sees("a skip needs its reason")
	c.answers("L3-N [V] dead; above 50 V stop: ", "0.3 0.2 0.3")
	c.answers("[now or 14:05]: ", "now")
	c.answers("volts [V]: ", "live now")
	c.answers("[V, or Enter]: ", "")
	c.sees("PASS")

	c.sees("[12/55] HOLD work: Close earth switch of T2")
	c.answers("done with WHO; ", "done")
	c.sees("a second person confirms it: done with WHO")
	c.answers("done with WHO; ", "done with jonas")
	c.answers("[13/55] step lock-es2", "done")
	c.answers("[14/55] step on-pe2", "done with jonas")
	c.answers("[15/55] permit", "done")
	c.answers("as found [1/2/3] planned 1: ", "1 1 1")
	c.answers("as left [1/2/3] planned 3: ", "3 3 3")
	c.sees("PASS")

	c.answers("[17/55] links", "skip the second team does the links")
	c.sees("you may type on the same line: flexible L2, flexible L3")
	c.answers("flexible L1: torque [32, passes 26.5 to 37.1 N·m], witness mark [y/n]: ", "3.2 yes") // a slipped decimal point
	c.sees("check the entry: flexible L1: 3.2 N·m")
	c.answers("or keep WHY if it is right: ", "")
	c.answers("witness mark [y/n]: ", "3.2 yes")
	c.answers("or keep WHY if it is right: ", "keep the wrench clicks there, read twice")
	c.sees("flexible L2: torque [32, passes 26.5 to 37.1 N·m], witness mark [y/n]: ")
}

func secondHalf(c *console) {
	c.sees("stored before: 1 line, the last: torque tool: tq-45, flexible L1, torque 3.2")
	c.answers("flexible L2: torque [32, passes 26.5 to 37.1 N·m], witness mark [y/n]: ", "30 lbf.ft yes")
	c.sees("stored: flexible L2, torque 40.67 N·m (30 lbf.ft)")
	c.sees("! flexible L2")
	c.answers("witness mark [y/n]: ", "32 Nm, yes")
	c.answers("repeat WHY to take it again, Enter to go on: ", "repeat")
	c.sees("a repeat needs its reason")
	c.answers("Enter to go on: ", "Quit")
	c.sees("left; every accepted line is stored; go on with: handback walk t2-return-1")
}

// The same lines, typed at a terminal with a Ctrl-C between and sent through a
// pipe that ends there, give the same entries, byte for byte.
func TestWalk_terminalAndPipe(t *testing.T) {
	book, job := newJob(t, string(demo.Plan))
	tty := onTerminal(t, 200, program(book, "handback", "walk", job))
	firstHalf(tty)
	first := tty.typed
	tty.sends("32 y\x03")
	if text := tty.ends(exitStopped); !strings.Contains(text, "go on with: handback walk t2-return-1\n") {
		t.Errorf("after Ctrl-C it does not say what to type:\n%s", text)
	}
	if n := countKept(t, book, job, "joints"); n != 1 {
		t.Fatalf("%d lines of joints are kept, want that of L1, with the tool", n)
	}
	tty = onTerminal(t, 200, program(book, "handback", "walk", job))
	secondHalf(tty)
	tty.ends(exitDone)

	piped, job := newJob(t, string(demo.Plan))
	for _, part := range []struct {
		lines []string
		end   int
	}{{first, exitFailed}, {tty.typed, exitDone}} {
		cmd := program(piped, "handback", "walk", job)
		cmd.Stdin = strings.NewReader(strings.Join(part.lines, "\n") + "\n")
		out, _ := cmd.CombinedOutput()
		if got := cmd.ProcessState.ExitCode(); got != part.end {
			t.Fatalf("over a pipe: exit status %d, want %d:\n%s", got, part.end, out)
		}
	}
	want, got := bodiesOf(t, book, job), bodiesOf(t, piped, job)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("terminal and pipe differ (-terminal +pipe):\n%s", diff)
	}
	if len(want) < 30 {
		t.Errorf("only %d entries were compared", len(want))
	}
	sound(t, book)
	sound(t, piped)
}

func countKept(t *testing.T, book, job, check string) int {
	t.Helper()
	n := 0
	for _, e := range entriesOf(t, book, job) {
		if e.Kind == report.EntryRead && e.Check == check {
			n++
		}
	}
	return n
}

// Lines pasted behind one that is refused were meant for other questions: none of
// them may answer the question that was asked again.
func TestWalk_pasteAfterARefusal(t *testing.T) {
	if runtime.GOOS != "linux" && runtime.GOOS != "darwin" {
		t.Skip("what waits at a terminal cannot be looked at here")
	}
	book, job := newJob(t, longPlan(2, 3))
	c := onTerminal(t, 200, program(book, "handback", "walk", job))
	c.sees("p1, p2, p3 [V]")
	c.sends("231\n23o\n233\n234\n")
	c.sees("stored: volts, p1 231 V")
	c.sees(`unit "o" is not known`)
	c.sees("lines typed ahead are dropped: type them again")
	c.answers("V: ", "232")
	c.sees("stored: volts, p2 232 V")
	c.answers("V: ", "233")
	c.sees("PASS")
	c.answers("[2/2] c2", "quit")
	c.ends(exitDone)
	if got := countKept(t, book, job, "c1"); got != 3 {
		t.Errorf("%d lines are kept, want three readings, the meter with the first", got)
	}
}

// An Enter typed ahead must not carry anybody past a stop.
func TestWalk_stopNeedsAWord(t *testing.T) {
	book, job := newJob(t, string(demo.Plan))
	c := onTerminal(t, 200, program(book, "handback", "walk", job))
	c.answers("help: ", nineSteps)
	c.answers("]: ", "live now")
	c.sees("L1-E, L2-E, L3-E [not live/live]")
	c.sends("live not not\n\n\n\n")
	c.sees("STOP: live: L1-E")
	c.sees("treat the plant as live; repeat WHY to prove it dead again, quit to leave: ")
	c.types("")
	c.sees(`"" is not known here: type repeat WHY, note WORDS or quit`)
	c.answers("quit to leave: ", "on")
	c.sees(`"on" is not known here: type repeat WHY`)
	c.answers("quit to leave: ", "quit")
	text := c.ends(exitDone)
	if strings.Contains(text, "[11/55]") {
		t.Errorf("the walk went on past a stop:\n%s", text)
	}
}

// What is accepted or put right elsewhere while somebody waits at a hold point is seen
// with the next Enter.
func TestWalk_holdReadsTheBookAgain(t *testing.T) {
	plan := strings.Replace(longPlan(1, 1), "low: 0 V, high: 1000000 V", "low: 220 V, high: 240 V", 1)
	plan = strings.Replace(plan, "role: technician}\n", "role: technician}\n  - {id: ben, name: Ben Example, role: engineer}\n", 1)
	book, job := newJob(t, plan+"  - {hold: on, action: Close the incomer}\nunsigned_acceptance: yes\n")
	c := onTerminal(t, 200, program(book, "handback", "walk", job))
	c.answers("V: ", "251")
	c.answers("Enter to go on: ", "")
	c.sees("HOLD: do not proceed. Outstanding:")
	runs(t, exitDone, program(book, "handback", "accept", job, "c1", "--by", "ben", "--why", "supply is high today"))
	c.answers("repeat CHECK WHY, quit, help: ", "")
	c.sees("free: proceed only on the instruction of the person in control")
	c.answers("done, or done 14:05; repeat CHECK WHY, quit, help: ", "done")
	c.sees("end of the plan: ready, with 1 concession")
	c.ends(exitDone)
	sound(t, book)
}

// Ctrl-D at a prompt leaves like the end of a pipe; a line it cuts off is no
// answer, for it may lack digits.
func TestWalk_unfinishedLine(t *testing.T) {
	book, job := newJob(t, longPlan(1, 3))
	c := onTerminal(t, 200, program(book, "handback", "walk", job))
	c.sees("p1, p2, p3 [V]")
	c.sends("24\x04\x04") // the first sends what was typed, the second ends the input
	c.sees(`"24": the line was not finished and is not taken`)
	c.ends(exitFailed)

	pipe := onPipes(t, program(book, "handback", "walk", job))
	pipe.sees("p1, p2, p3 [V]")
	pipe.sends("249.1 2")
	pipe.in.Close()
	pipe.sees(`"249.1 2": the line was not finished and is not taken`)
	pipe.ends(exitFailed)
	if got := countKept(t, book, job, "c1"); got != 0 {
		t.Errorf("%d lines are kept, want none", got)
	}
}

// Talk fits a narrow terminal; escape sequences are sent to none.
func TestWalk_narrowTerminal(t *testing.T) {
	book, job := newJob(t, string(demo.Plan))
	c := onTerminal(t, 40, program(book, "handback", "walk", job))
	for range 9 {
		c.answers("help: ", "done")
	}
	c.answers("14:05]: ", "quit")
	text := c.ends(exitDone)
	if strings.ContainsRune(text, '\x1b') {
		t.Errorf("escape sequences on a terminal: %q", text)
	}
	for _, line := range strings.Split(text, "\n") {
		if n := len([]rune(strings.TrimRight(line, "\r"))); n >= 40 && !strings.Contains(line, "go on with: ") {
			t.Errorf("%d characters at 40 columns: %s", n, line)
		}
	}
}

// What no person can have meant is refused everywhere a line is read, notes and
// reasons too, and never ends the walk.
func TestWalk_unreadableLines(t *testing.T) {
	book, job := newJob(t, longPlan(1, 3))
	c := onPipes(t, program(book, "handback", "walk", job))
	c.answers("[V]", "note \x1b[2Jgone")
	c.sees("control characters are not read")
	c.answers("[V]", "skip \xff")
	c.sees("letters that are not written in UTF-8 are not read")
	c.answers("[V]", "note "+strings.Repeat("x", 3*session.MaxLine))
	c.sees("a line of more than 4096 characters is not read")
	c.answers("[V]", "dmm\r")
	c.answers("[V]", strings.Repeat("9", 3000))
	c.answers("[V]", "231 232 233")
	c.sees("end of the plan")
	if text := c.ends(exitDone); strings.ContainsRune(text, '\x1b') || strings.Contains(text, strings.Repeat("9", 200)+"\"") {
		t.Errorf("a refused line comes back raw or whole:\n%q", text)
	}
	kinds := map[string]int{}
	for _, e := range entriesOf(t, book, job) {
		kinds[e.Kind]++
	}
	if diff := cmp.Diff(map[string]int{report.EntryOpen: 1, report.EntryRead: 1, report.EntryJudge: 1}, kinds); diff != "" {
		t.Errorf("entries (-want +got):\n%s", diff)
	}
}
