package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"testing"
)

// unsent is what a driver gives that found its connection closed.
type unsent bool

func (unsent) Error() string       { return "conn closed" }
func (u unsent) SafeToRetry() bool { return bool(u) }

func TestTranslateServer_away(t *testing.T) {
	for _, err := range []error{io.EOF, io.ErrUnexpectedEOF, &net.OpError{Op: "read", Err: errors.New("broken pipe")}, unsent(true), fmt.Errorf("take: %w", unsent(true))} {
		if got := translateServer("postgres://owner@/owner", err); !errors.Is(got, ErrAway) || !errors.Is(got, err) {
			t.Errorf("%v became %v", err, got)
		}
	}
	for _, err := range []error{unsent(false), errors.New("anything"), fmt.Errorf("%w: %w", context.Canceled, io.EOF)} {
		if got := translateServer("postgres://owner@/owner", err); errors.Is(got, ErrAway) {
			t.Errorf("%v became %v", err, got)
		}
	}
}
