package session

import (
	"bytes"
	"testing"
	"time"
)

// Work that takes long is told after a second and then every ten; nobody is told of it where
// there is no terminal.
func TestWorking(t *testing.T) {
	var said bytes.Buffer
	ticks, stop, ended := make(chan time.Time), make(chan struct{}), make(chan struct{})
	began := time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)
	go func() {
		tellAtWork(&said, "packing job pump-1", began, ticks, stop)
		close(ended)
	}()
	for _, second := range []int{1, 2, 9, 10, 11, 19, 20} {
		ticks <- began.Add(time.Duration(second) * time.Second)
	}
	close(stop)
	<-ended
	if want := "packing job pump-1 ...\npacking job pump-1: 10s so far\npacking job pump-1: 20s so far\n"; said.String() != want {
		t.Errorf("%q is said, want %q", said.String(), want)
	}
	env := &Env{Err: &PlainWriter{To: &said}}
	said.Reset()
	env.Working("packing")()
	if said.Len() > 0 {
		t.Errorf("%q is said to no terminal", said.String())
	}
}
