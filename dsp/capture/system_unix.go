//go:build unix

package capture

import (
	"os/exec"
	"syscall"

	"golang.org/x/sys/unix"
)

// apart keeps Ctrl-C at the terminal from a child: it is ended in its turn.
func apart(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// Space returns how many bytes the disk of a folder has left; false where the
// system does not tell.
func Space(dir string) (bytes int64, ok bool) {
	var s unix.Statfs_t
	if unix.Statfs(dir, &s) != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true
}
