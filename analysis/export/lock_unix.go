//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd

package export

import (
	"os"
	"syscall"
)

// lock takes the lock of a file until it is closed. It reports false where
// another holds it, or the file system has none.
func lock(f *os.File) bool {
	return syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB) == nil
}
