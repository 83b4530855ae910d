package cmd

import (
	"context"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"

	"golang.org/x/sys/windows"
)

// dialAgent calls ssh-agent: on the pipe where Windows' own listens, or at a socket. Who
// listens there is not let act in the name of the caller.
func dialAgent(ctx context.Context, at string) (io.ReadWriteCloser, error) {
	if pipe := filepath.FromSlash(at); strings.HasPrefix(strings.ToLower(pipe), `\\.\pipe\`) {
		return os.OpenFile(pipe, os.O_RDWR|windows.O_FILE_FLAG_OVERLAPPED|windows.SECURITY_SQOS_PRESENT|windows.SECURITY_ANONYMOUS, 0)
	}
	return new(net.Dialer).DialContext(ctx, "unix", at)
}
