package runs

import (
	"errors"
	"fmt"
	"io/fs"

	"rundown/dsp/wavio"
)

// damaged is the error for a file that no analysis could have left so.
func damaged(path string, err error) error {
	return fmt.Errorf("%s: %w; analyse the recording again", wavio.OneLine(path), err)
}

// explain names a file that could not be read, and what to do about it.
func explain(path string, err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		err = pe.Err
	}
	what := "check the folder"
	switch {
	case errors.Is(err, fs.ErrNotExist):
		what = "give a recording, or the whole results folder of an analysis"
	case errors.Is(err, fs.ErrPermission):
		what = "ask for the right to read it"
	}
	return fmt.Errorf("%s: %w; %s", wavio.OneLine(path), err, what)
}
