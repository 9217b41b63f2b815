//go:build !(darwin || dragonfly || freebsd || linux || netbsd || openbsd || windows)

package export

import (
	"errors"
	"os"
)

var errLocked = errors.New("locked")

// lock knows no locks here: every temporary folder may be that of a run that
// is alive.
func lock(*os.File) error { return errors.ErrUnsupported }
