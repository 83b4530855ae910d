//go:build !windows

package cmd

import (
	"context"
	"io"
	"net"
)

// dialAgent calls ssh-agent at its socket.
func dialAgent(ctx context.Context, at string) (io.ReadWriteCloser, error) {
	return new(net.Dialer).DialContext(ctx, "unix", at)
}
