package main

import (
	"fmt"
	"testing"

	"handback/testdata/outside"
)

// lifted stands where a test would: what a server of tests asks of one.
type lifted struct {
	testing.TB // for what is not asked
	last       []func()
}

func (l *lifted) Helper()                      {}
func (l *lifted) Cleanup(f func())             { l.last = append(l.last, f) }
func (l *lifted) Fatal(args ...any)            { panic(fmt.Sprint(args...)) }
func (l *lifted) Fatalf(f string, args ...any) { panic(fmt.Sprintf(f, args...)) }
func (l *lifted) Skipf(f string, args ...any)  { panic(fmt.Sprintf(f, args...)) }

// end cleans up, the last first.
func (l *lifted) end() {
	for i := range l.last {
		l.last[len(l.last)-1-i]()
	}
}

// server is a server of PostgreSQL, started once.
func (b *bench) server() *outside.Postgres {
	if b.postgres == nil {
		b.postgres = outside.NewPostgres(&b.lifted)
	}
	return b.postgres
}
