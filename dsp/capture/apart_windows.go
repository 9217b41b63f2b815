package capture

import (
	"os/exec"
	"syscall"
)

// apart keeps Ctrl-C at the terminal from a child: it is ended in its turn.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
}
