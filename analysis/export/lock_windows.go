package export

import (
	"os"

	"golang.org/x/sys/windows"
)

// lock takes the lock of a file until it is closed. It reports false where
// another holds it, or the file system has none.
func lock(f *os.File) bool {
	const flags = windows.LOCKFILE_EXCLUSIVE_LOCK | windows.LOCKFILE_FAIL_IMMEDIATELY
	return windows.LockFileEx(windows.Handle(f.Fd()), flags, 0, 1, 0, new(windows.Overlapped)) == nil
}
