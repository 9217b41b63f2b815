package export

import (
	"os"

	"golang.org/x/sys/windows"
)

const errLocked = windows.ERROR_LOCK_VIOLATION

// lock takes the lock of a file until it is closed. It returns errLocked where
// another holds it, and another error where the file system has none.
func lock(f *os.File) error {
	const flags = windows.LOCKFILE_EXCLUSIVE_LOCK | windows.LOCKFILE_FAIL_IMMEDIATELY
	return windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, new(windows.Overlapped))
}
