//go:build linux

package main

import (
	"bytes"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
)

// smallDisk mounts a disk in memory of so many bytes, and returns its folder
// and what makes it another size.
func smallDisk(t *testing.T, size int64) (dir string, resize func(size int64)) {
	t.Helper()
	dir = t.TempDir()
	mount := func(flags uintptr, size int64) error {
		return syscall.Mount("tmpfs", dir, "tmpfs", flags, fmt.Sprintf("size=%d", size))
	}
	if err := mount(0, size); err != nil {
		t.Skipf("skipped: no disk of a given size can be mounted here: %v", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, 0); err != nil {
			t.Error(err)
		}
	})
	return dir, func(size int64) {
		if err := mount(syscall.MS_REMOUNT, size); err != nil {
			t.Fatal(err)
		}
	}
}

// used is how many bytes of the disk of a folder are taken.
func used(t *testing.T, dir string) int64 {
	t.Helper()
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		t.Fatal(err)
	}
	return int64(s.Blocks-s.Bfree) * s.Bsize
}

// Whichever file a full disk stops, the older results stay as they were,
// nothing half is left, and one line names the file and says what to do.
func TestDiskFullAtEachFile(t *testing.T) {
	if testing.Short() {
		t.Skip("skipped: analyses a recording many times")
	}
	const roomy, steps = 8 << 20, 14
	disk, resize := smallDisk(t, roomy)
	recording := record(t, "--duration", "19s", "--sample-rate", "8000", "--late", "400")
	dir := filepath.Join(disk, "night.rundown")
	analyse := func() (int, string) {
		var out, stderr bytes.Buffer
		code := run(t.Context(), []string{"analyse", "--out", dir, recording}, nil, &out, &stderr)
		return code, stderr.String()
	}
	if code, text := analyse(); code != exitOK {
		t.Fatalf("exit code %d: %s", code, text)
	}
	before, taken := listing(t, dir), used(t, disk)
	message := regexp.MustCompile(`^rundown: ` + regexp.QuoteMeta(dir) + `(/[^:]*)?: no space left on device; free some space or choose another folder with --out, and run it again\n$`)
	full := map[string]bool{}
	for step := range int64(steps) {
		resize(taken + step*taken/steps)
		code, text := analyse()
		found := message.FindStringSubmatch(text)
		if code != exitFailure || found == nil {
			t.Fatalf("%d bytes left: exit code %d, %q", step*taken/steps, code, text)
		}
		full[strings.TrimPrefix(found[1], "/")] = true
		if after := listing(t, dir); after != before {
			t.Fatalf("full at %q: %s became %s", found[1], before, after)
		}
	}
	if len(full) < 6 {
		t.Errorf("the disk was full only at %v", full)
	}
	resize(roomy)
	if code, text := analyse(); code != exitOK {
		t.Errorf("with room again: exit code %d: %s", code, text)
	}
}
