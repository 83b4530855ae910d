package files

import (
	"errors"

	"golang.org/x/sys/windows"
)

// ownerAlone leaves a file to whoever made it: a mode of 0600 says nothing there, and in a
// folder that others use a file would be theirs to read.
func ownerAlone(path string) error {
	user, err := windows.GetCurrentProcessToken().GetTokenUser()
	if err != nil {
		return err
	}
	rights, err := windows.SecurityDescriptorFromString("D:P(A;;FA;;;" + user.User.Sid.String() + ")") // P: none of the folder's
	if err != nil {
		return err
	}
	name, err := windows.UTF16PtrFromString(path)
	if err != nil {
		return err
	}
	h, err := windows.CreateFile(name, windows.WRITE_DAC, windows.FILE_SHARE_READ|windows.FILE_SHARE_WRITE, nil, windows.OPEN_EXISTING, 0, 0)
	if err != nil {
		return err
	}
	return errors.Join(windows.SetKernelObjectSecurity(h, windows.DACL_SECURITY_INFORMATION, rights), windows.CloseHandle(h))
}
