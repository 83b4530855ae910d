// Command other stands for the other programs of a Windows machine, for .ci/windows alone.
//
//	other agent PIPE KEY      an ssh-agent that listens on a pipe and holds one key
//	other holds FILE          a program that reads a file, and lets nobody remove it
//	other keeps FILE          a program that lets nobody else at a file
//	other rights FILE         tells who may use a file, and ends
//
// The others say "ready" when they are, and end with their input.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"

	"golang.org/x/crypto/ssh"
	"golang.org/x/crypto/ssh/agent"
	"golang.org/x/sys/windows"
)

func main() {
	if err := run(os.Args[1], os.Args[2:]); err != nil {
		fmt.Fprintln(os.Stderr, "other:", err)
		os.Exit(1)
	}
}

func run(what string, args []string) error {
	switch what {
	case "agent":
		return serve(args[0], args[1])
	case "holds":
		return hold(args[0], windows.FILE_SHARE_READ|windows.FILE_SHARE_WRITE)
	case "keeps":
		return hold(args[0], 0)
	case "rights":
		sd, err := windows.GetNamedSecurityInfo(args[0], windows.SE_FILE_OBJECT, windows.DACL_SECURITY_INFORMATION)
		if err == nil {
			fmt.Println(sd)
		}
		return err
	}
	return errors.New("agent, holds, keeps or rights is wanted")
}

func hold(file string, share uint32) error {
	name, err := windows.UTF16PtrFromString(file)
	if err != nil {
		return err
	}
	h, err := windows.CreateFile(name, windows.GENERIC_READ, share, nil, windows.OPEN_EXISTING, 0, 0)
	if err != nil {
		return err
	}
	fmt.Println("ready")
	_, err = io.Copy(io.Discard, os.Stdin)
	return errors.Join(err, windows.CloseHandle(h))
}

// serve answers one caller after another.
func serve(pipe, keyFile string) error {
	data, err := os.ReadFile(keyFile)
	if err != nil {
		return err
	}
	key, err := ssh.ParseRawPrivateKey(data)
	if err != nil {
		return err
	}
	held := agent.NewKeyring()
	if err := held.Add(agent.AddedKey{PrivateKey: key}); err != nil {
		return err
	}
	name, err := windows.UTF16PtrFromString(pipe)
	if err != nil {
		return err
	}
	go func() {
		io.Copy(io.Discard, os.Stdin)
		os.Exit(0)
	}()
	for first := true; ; first = false {
		h, err := windows.CreateNamedPipe(name, windows.PIPE_ACCESS_DUPLEX, windows.PIPE_TYPE_BYTE, windows.PIPE_UNLIMITED_INSTANCES, 4096, 4096, 0, nil)
		if err != nil {
			return err
		}
		if first {
			fmt.Println("ready")
		}
		if err := windows.ConnectNamedPipe(h, nil); err != nil && !errors.Is(err, windows.ERROR_PIPE_CONNECTED) {
			return err
		}
		f := os.NewFile(uintptr(h), pipe)
		agent.ServeAgent(held, f) // ends with its caller
		f.Close()
	}
}
