package capture

import (
	"os/exec"
	"runtime"
	"syscall"
	"unsafe"

	"golang.org/x/sys/windows"
)

// apart keeps Ctrl-C at the terminal from a child: it is ended in its turn.
func apart(cmd *exec.Cmd) {
	cmd.SysProcAttr = &syscall.SysProcAttr{CreationFlags: syscall.CREATE_NEW_PROCESS_GROUP}
}

// Space returns how many bytes the disk of a folder has left; false where the
// system does not tell.
func Space(dir string) (bytes int64, ok bool) {
	name, err := windows.UTF16PtrFromString(dir)
	var free uint64
	if err != nil || windows.GetDiskFreeSpaceEx(name, &free, nil, nil) != nil {
		return 0, false
	}
	return int64(free), true
}

var (
	kernel             = windows.NewLazySystemDLL("kernel32.dll")
	powerStatus        = kernel.NewProc("GetSystemPowerStatus")
	setThreadExecution = kernel.NewProc("SetThreadExecutionState")
)

// OnBattery reports whether the computer runs on a battery, as far as the system
// tells.
func OnBattery() bool {
	var status struct {
		Line, Flag, Percent, Saver uint8
		Life, Full                 uint32
	}
	told, _, _ := powerStatus.Call(uintptr(unsafe.Pointer(&status)))
	return told != 0 && status.Line == 0
}

// KeepAwake keeps the computer from sleeping until release is called; false
// where it can't.
func KeepAwake() (release func(), ok bool) {
	const continuous, system = 0x80000000, 1 // ES_CONTINUOUS, ES_SYSTEM_REQUIRED
	done, set := make(chan struct{}), make(chan bool)
	go func() {
		runtime.LockOSThread() // the state is a thread's
		before, _, _ := setThreadExecution.Call(continuous | system)
		set <- before != 0
		<-done
		setThreadExecution.Call(continuous)
		runtime.UnlockOSThread()
	}()
	ok = <-set
	return func() { close(done) }, ok
}
