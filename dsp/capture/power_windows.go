package capture

import (
	"runtime"
	"unsafe"

	"golang.org/x/sys/windows"
)

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
