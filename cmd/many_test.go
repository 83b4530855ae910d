package cmd

import (
	"context"
	"runtime"
	"slices"
	"sync/atomic"
	"testing"
)

// Things come in their order whichever is made first; few are made at once, and whoever
// stops waits for those that were begun.
func TestInOrder(t *testing.T) {
	var all []int
	for i := range 100 {
		all = append(all, i)
	}
	most := int64(runtime.GOMAXPROCS(0)) + 2 // made, one to be handed out, one about to wait
	for _, until := range []int{len(all), 1, 17} {
		var working, peak, begun, ended atomic.Int64
		second := make(chan struct{})
		make := func(i int) int {
			begun.Add(1)
			for n := working.Add(1); n > peak.Load(); {
				peak.Store(n)
			}
			switch i {
			case 0:
				<-second // is made before the first
			case 1:
				close(second)
			}
			working.Add(-1)
			ended.Add(1)
			return i
		}
		var got []int
		for i := range inOrder(context.Background(), all, make) {
			if got = append(got, i); len(got) == until {
				break
			}
		}
		if !slices.Equal(got, all[:until]) {
			t.Errorf("until %d: %v", until, got)
		}
		if begun.Load() != ended.Load() || begun.Load() > int64(until)+most || peak.Load() > most {
			t.Errorf("until %d: %d begun, %d ended, %d at once", until, begun.Load(), ended.Load(), peak.Load())
		}
	}
	done, stop := context.WithCancel(context.Background())
	stop()
	n := 0
	for range inOrder(done, all, func(i int) int { return i }) {
		n++
	}
	if n > 0 {
		t.Errorf("when it is done %d are made", n)
	}
}
