package export

import "golang.org/x/sys/unix"

// exchange makes each of two folders take the other's name, at once.
func exchange(a, b string) error { return unix.RenamexNp(a, b, unix.RENAME_SWAP) }
