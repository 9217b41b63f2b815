package main

import (
	"io"
	"os"

	"golang.org/x/sys/unix"
)

// widen lets the pipe that r may be hold pipeSize: the most that Linux grants to
// any user unless told otherwise, see pipe(7). At its usual 64 KiB a program that
// writes at once and one that reads at once wake each other for every read, and
// that costs more than the analysis; and a recorder has to wait sooner while
// nothing is read. What can't be widened is left as it is.
func widen(r io.Reader) {
	f, ok := r.(*os.File)
	if !ok {
		return
	}
	conn, err := f.SyscallConn()
	if err != nil {
		return
	}
	conn.Control(func(fd uintptr) {
		if held, err := unix.FcntlInt(fd, unix.F_GETPIPE_SZ, 0); err == nil && held < pipeSize {
			unix.FcntlInt(fd, unix.F_SETPIPE_SZ, pipeSize)
		}
	})
}
