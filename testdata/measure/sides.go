package main

import (
	"fmt"
	"os/exec"
	"runtime"
	"slices"
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
