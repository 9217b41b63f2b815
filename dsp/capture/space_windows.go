package capture

import "golang.org/x/sys/windows"

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
