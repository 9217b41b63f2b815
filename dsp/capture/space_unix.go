//go:build unix

package capture

import "golang.org/x/sys/unix"

// Space returns how many bytes the disk of a folder has left; false where the
// system does not tell.
func Space(dir string) (bytes int64, ok bool) {
	var s unix.Statfs_t
	if unix.Statfs(dir, &s) != nil {
		return 0, false
	}
	return int64(s.Bavail) * int64(s.Bsize), true
}
