package wavio

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"time"
)

// pipePatience is how long a named pipe may stay without a writer.
const pipePatience = time.Second

// File is the Source of a file. The caller closes it.
type File struct {
	*Reader
	file *os.File
}

// Open opens a recording. It refuses folders, sockets and devices, and a named
// pipe that nobody writes to; it never waits for longer than a second.
func Open(path string) (*File, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, openError(path, err)
	}
	var file *os.File
	switch mode := info.Mode(); {
	case mode.IsRegular():
		file, err = os.Open(path)
	case mode.IsDir():
		return nil, fmt.Errorf("%s: is a folder: name the recordings in it", OneLine(path))
	case mode&fs.ModeNamedPipe != 0:
		file, err = openPipe(path)
	default:
		return nil, fmt.Errorf("%s: is a device or a socket: name a recording, or - for standard input", OneLine(path))
	}
	if err != nil {
		return nil, openError(path, err)
	}
	r, err := NewReader(file, path)
	if err != nil {
		file.Close()
		return nil, err
	}
	return &File{r, file}, nil
}

// Close closes the file.
func (f *File) Close() error { return f.file.Close() }

func openError(path string, err error) error {
	var pathError *fs.PathError
	if errors.As(err, &pathError) {
		err = pathError.Err
	}
	return fmt.Errorf("%s: can't be opened, so check its name and that you may read it: %w", OneLine(path), err)
}

// openPipe opens a named pipe. The system waits for a writer in that, perhaps
// for ever.
func openPipe(path string) (*os.File, error) {
	type result struct {
		file *os.File
		err  error
	}
	opened, abandoned := make(chan result), make(chan struct{})
	go func() {
		file, err := os.Open(path)
		select {
		case opened <- result{file, err}:
		case <-abandoned:
			file.Close()
		}
	}()
	select {
	case r := <-opened:
		return r.file, r.err
	case <-time.After(pipePatience):
		close(abandoned)
		return nil, errors.New("nothing writes to this pipe")
	}
}
