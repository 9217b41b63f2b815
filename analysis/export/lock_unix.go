//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package export

import (
	"os"
	"syscall"
)

const errLocked = syscall.EWOULDBLOCK

// lock takes the lock of a file until it is closed. It returns errLocked where
// another holds it, and another error where the file system has none.
func lock(f *os.File) error {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
}
