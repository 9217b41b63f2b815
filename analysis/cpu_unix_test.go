//go:build unix

package analysis

import (
	"syscall"
	"testing"
	"time"
)

// processorTime returns how long the processor has worked for this process; what else
// it does meanwhile does not count.
func processorTime(t *testing.T) time.Duration {
	t.Helper()
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		t.Fatal(err)
	}
	return time.Duration(used.Utime.Nano())
}
