package session

import (
	"fmt"
	"io"
	"time"
)

// Working says on a terminal what a command is at, once that has taken a second, and then
// every ten how long it has; nothing anywhere else, where nobody waits before a screen. done
// ends it, and nothing is said behind it.
func (env *Env) Working(format string, args ...any) (done func()) {
	if terminalOf(env.Err) == nil {
		return func() {}
	}
	ticker, stop, ended := time.NewTicker(time.Second), make(chan struct{}), make(chan struct{})
	go func() {
		defer close(ended)
		tellAtWork(env.Err, fmt.Sprintf(format, args...), time.Now(), ticker.C, stop)
	}()
	return func() {
		ticker.Stop()
		close(stop)
		<-ended
	}
}

// tellAtWork tells at ticks how long work has gone on, until it is stopped.
func tellAtWork(w io.Writer, what string, began time.Time, ticks <-chan time.Time, stop <-chan struct{}) {
	for next := time.Duration(0); ; {
		select {
		case <-stop:
			return
		case now := <-ticks:
			switch gone := now.Sub(began).Round(time.Second); {
			case next == 0:
				fmt.Fprintf(w, "%s ...\n", what)
				next = 10 * time.Second
			case gone >= next:
				fmt.Fprintf(w, "%s: %s so far\n", what, gone)
				next += 10 * time.Second
			}
		}
	}
}
