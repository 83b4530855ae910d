package session

import (
	"os"
	"slices"
	"unsafe"

	"golang.org/x/sys/windows"
)

// keyPressed is INPUT_RECORD of <wincon.h> with a KEY_EVENT_RECORD in it. Other events
// are as long.
type keyPressed struct {
	event     uint16
	_         uint16
	down      int32
	times     uint16
	key, scan uint16
	sign      uint16
	held      uint32
}

const keyEvent = 1 // KEY_EVENT

var peekConsole = windows.NewLazySystemDLL("kernel32.dll").NewProc("PeekConsoleInputW")

// dropTyped throws away what waits at a console, where a whole line of it does, and tells
// whether one did.
func dropTyped(f *os.File) bool {
	console := windows.Handle(f.Fd())
	var waiting, seen uint32
	if err := windows.GetNumberOfConsoleInputEvents(console, &waiting); err != nil || waiting == 0 {
		return false
	}
	events := make([]keyPressed, waiting)
	ok, _, _ := peekConsole.Call(uintptr(console), uintptr(unsafe.Pointer(&events[0])), uintptr(waiting), uintptr(unsafe.Pointer(&seen)))
	ended := func(k keyPressed) bool { return k.event == keyEvent && k.down != 0 && k.sign == '\r' }
	if ok == 0 || !slices.ContainsFunc(events[:seen], ended) {
		return false
	}
	return windows.FlushConsoleInputBuffer(console) == nil
}
