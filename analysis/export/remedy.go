package export

import (
	"errors"
	"io/fs"
	"runtime"
	"syscall"
)

// remedy says what to do about a failure to write.
func remedy(err error) string {
	switch {
	case errors.Is(err, errBusy):
		return "wait until it has ended, or choose another folder with --out"
	case diskFull(err):
		return "free some space or choose another folder with --out, and run it again"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "choose a folder you may write to with --out"
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, fs.ErrExist):
		return "a file stands where the folder should be: choose another with --out"
	}
	return "choose another folder with --out"
}

// diskFull reports whether err is the system's word for a full disk or an
// exhausted quota.
func diskFull(err error) bool {
	const windowsDiskFull = syscall.Errno(112) // ERROR_DISK_FULL, Windows System Error Codes
	if runtime.GOOS == "windows" && errors.Is(err, windowsDiskFull) {
		return true
	}
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
