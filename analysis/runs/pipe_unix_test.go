//go:build unix

package runs

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// A pipe in the place of a file does not keep anybody waiting.
func TestReadRefusesPipes(t *testing.T) {
	for name := range good {
		dir := t.TempDir()
		folder(t, dir, nil)
		path := filepath.Join(dir, name)
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
		if err := syscall.Mkfifo(path, 0o666); err != nil {
			t.Skipf("skipped: no pipes here: %v", err)
		}
		done := make(chan error, 1)
		go func() {
			_, err := Read(dir)
			done <- err
		}()
		select {
		case err := <-done:
			if err == nil || !strings.HasPrefix(err.Error(), path+": it is no file; ") {
				t.Errorf("%s: %v", name, err)
			}
		case <-time.After(5 * time.Second):
			t.Fatalf("%s: still waiting", name)
		}
	}
}
