package main

import (
	"fmt"
	"os"
	"os/exec"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"time"
)

// spent is the processor time of this process so far.
func spent() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// withChildren is spent, with what processes spent that were waited for.
func withChildren() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_CHILDREN, &u); err != nil {
		panic(err)
	}
	return spent() + time.Duration(u.Utime.Nano()+u.Stime.Nano())
}

// waited is the time of day, for what waits for the disk.
func waited() time.Duration { return time.Duration(time.Now().UnixNano()) }

// turns measures two works in turn, so many times, by a clock. Each work does what it does
// so many times over.
func turns(n int, clock func() time.Duration, ours, floor func() error) (sides, error) {
	took := [2][]float64{}
	for i := range 2 * n {
		side := i % 2
		work := [2]func() error{ours, floor}[side]
		runtime.GC() // what the other left behind
		began := clock()
		if err := work(); err != nil {
			return sides{}, err
		}
		took[side] = append(took[side], float64(clock()-began)/1e6)
	}
	return sides{median(took[0]), median(took[1]), "ms"}, nil
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return x[len(x)/2]
}

// processes measures two command lines in turn by the processor time of the whole process.
func processes(n int, ours, floor []string) (sides, error) {
	took := [2][]float64{}
	for i := range 2 * n {
		args := [2][]string{ours, floor}[i%2]
		c := exec.Command(args[0], args[1:]...)
		err := c.Run()
		if c.ProcessState == nil || c.ProcessState.ExitCode() != 0 && c.ProcessState.ExitCode() != 3 {
			return sides{}, fmt.Errorf("%v: %w", args, err)
		}
		took[i%2] = append(took[i%2], float64(c.ProcessState.UserTime()+c.ProcessState.SystemTime())/1e6)
	}
	return sides{median(took[0]), median(took[1]), "ms"}, nil
}

// peak is how much memory this process had at most so far, in MiB as Linux counts.
func peak() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return float64(u.Maxrss) / 1024
}

// memoryOf runs a command and gives how much memory it had at most, in MiB. What the system
// tells of an ended process counts what this one had when it began the other: so it is
// looked at while it runs.
func memoryOf(c *exec.Cmd) (most float64, err error) {
	if err := c.Start(); err != nil {
		return 0, err
	}
	ended := make(chan error, 1)
	go func() { ended <- c.Wait() }()
	for {
		select {
		case err := <-ended:
			return most, err
		case <-time.After(5 * time.Millisecond):
			status, _ := os.ReadFile(fmt.Sprintf("/proc/%d/status", c.Process.Pid)) // it may have ended
			_, after, _ := strings.Cut(string(status), "VmHWM:")
			var kilobytes float64
			if _, err := fmt.Sscan(after, &kilobytes); err == nil {
				most = max(most, kilobytes/1024)
			}
		}
	}
}
