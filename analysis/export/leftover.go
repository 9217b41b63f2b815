package export

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// Names within a results folder while results are made.
const (
	stagePattern = ".rundown-*" // temporary folders
	holdName     = ".running"   // in one: a file that its run holds locked
	asideName    = ".old"       // in one: the older results, while the new ones move in
)

// hold marks a temporary folder as that of a run that is alive. The system
// drops the lock when the process ends, however it does.
func hold(stage string) *os.File {
	file, err := os.Create(filepath.Join(stage, holdName))
	if err != nil {
		return nil // then it is left alone by later runs
	}
	lock(file)
	return file
}

// clearLeftovers removes from dir the temporary folders of runs that were
// killed. Where one died while its results moved into place, the older ones
// are put back first. What cannot be told to be dead is left alone.
func clearLeftovers(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, entry := range entries {
		if ours, err := filepath.Match(stagePattern, entry.Name()); err != nil || !ours || !entry.IsDir() {
			continue
		}
		stage := filepath.Join(dir, entry.Name())
		file, err := os.OpenFile(filepath.Join(stage, holdName), os.O_RDWR, 0)
		if err != nil {
			continue
		}
		if lock(file) {
			restore(filepath.Join(stage, asideName), dir)
			file.Close()
			os.RemoveAll(stage)
			continue
		}
		file.Close()
	}
}

// restore moves older results from aside back into dir, unless there is a
// summary, which comes last: then the new ones are complete.
func restore(aside, dir string) {
	if _, err := os.Lstat(filepath.Join(dir, SummaryName)); !errors.Is(err, fs.ErrNotExist) {
		return
	}
	var names []string
	filepath.WalkDir(aside, func(path string, d fs.DirEntry, err error) error {
		if name, e := filepath.Rel(aside, path); err == nil && e == nil && !d.IsDir() {
			names = append(names, filepath.ToSlash(name))
		}
		return nil
	})
	for _, name := range summaryLast(names) {
		to := filepath.Join(dir, filepath.FromSlash(name))
		if os.MkdirAll(filepath.Dir(to), 0o777) == nil {
			os.Rename(filepath.Join(aside, filepath.FromSlash(name)), to)
		}
	}
}
