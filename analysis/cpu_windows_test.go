package analysis

import (
	"syscall"
	"testing"
	"time"
)

// processorTime returns how long the processor has worked for this process, from some
// instant on; what else it does meanwhile does not count.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	process, err := syscall.GetCurrentProcess()
	if err != nil {
		t.Fatal(err)
	}
	var created, ended, kernel, user syscall.Filetime
	if err := syscall.GetProcessTimes(process, &created, &ended, &kernel, &user); err != nil {
		t.Fatal(err)
	}
	return time.Duration(user.Nanoseconds())
}
