package export

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
)

// SummaryName is the file name of the summary in a results folder.
const SummaryName = "summary.json"

// Folder is a results folder in the making. Everything is written to a
// temporary folder inside it, and Commit moves it into place; until then, and
// after Abort, what the folder held before is untouched. Names of files are
// relative, with slashes.
type Folder struct {
	dir   string
	stage string
	hold  *os.File // locked while the temporary folder is in use; nil where that failed
	made  []string // folders that had to be created, innermost first
	names []string // files written so far
}

// NewFolder prepares dir, which is created if missing, for new results, and
// removes what runs that were killed left there. The caller must call Commit or
// Abort.
func NewFolder(dir string) (*Folder, error) {
	f := &Folder{dir: dir, made: missing(dir)}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		f.Abort()
		return nil, explain(dir, err)
	}
	clearLeftovers(dir)
	stage, err := os.MkdirTemp(dir, stagePattern)
	if err != nil {
		f.Abort()
		return nil, explain(dir, err)
	}
	f.stage, f.hold = stage, hold(stage)
	return f, nil
}

// missing lists the folders of path that do not exist, innermost first.
func missing(path string) []string {
	var dirs []string
	for dir := filepath.Clean(path); ; dir = filepath.Dir(dir) {
		if _, err := os.Lstat(dir); !errors.Is(err, fs.ErrNotExist) {
			return dirs
		}
		dirs = append(dirs, dir)
	}
}

// Dir returns the folder's path as it was given.
func (f *Folder) Dir() string { return f.dir }

// Create opens a new file for buffered writing. Its errors name the file and
// say what to do; the last of them comes from Close.
func (f *Folder) Create(name string) (io.WriteCloser, error) {
	path := filepath.Join(f.stage, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return nil, f.explain(name, err)
	}
	file, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o666)
	if err != nil {
		return nil, f.explain(name, err)
	}
	f.names = append(f.names, name)
	return newStagedFile(f, name, file), nil
}

// Write creates a file and fills it by fill.
func (f *Folder) Write(name string, fill func(io.Writer) error) error {
	w, err := f.Create(name)
	if err != nil {
		return err
	}
	if err := fill(w); err != nil {
		w.Close()
		return err
	}
	return w.Close()
}

// Commit moves the new results into place and removes the older ones that they
// replace. If that fails, the older results are put back. All files must have
// been closed.
func (f *Folder) Commit() error {
	var undo []func()
	move := func(from, to string) error {
		if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
			return err
		}
		if err := os.Rename(from, to); err != nil {
			return err
		}
		undo = append(undo, func() { os.Rename(to, from) })
		return nil
	}
	roll := func(name string, err error) error {
		for _, step := range slices.Backward(undo) {
			step()
		}
		f.Abort()
		return f.explain(name, err)
	}
	old := f.replaced()
	aside := filepath.Join(f.stage, asideName)
	for _, name := range old {
		from := filepath.Join(f.dir, filepath.FromSlash(name))
		if _, err := os.Lstat(from); errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err := move(from, filepath.Join(aside, filepath.FromSlash(name))); err != nil {
			return roll(name, err)
		}
	}
	for _, name := range summaryLast(f.names) {
		local := filepath.FromSlash(name)
		if err := move(filepath.Join(f.stage, local), filepath.Join(f.dir, local)); err != nil {
			return roll(name, err)
		}
	}
	f.made = nil
	f.Abort()
	f.prune(old)
	return nil
}

// replaced lists the files that the new results replace: those of the same
// names, and those that an older summary names. The summary goes first, so
// that a folder caught in the middle of a move has none.
func (f *Folder) replaced() []string {
	names := slices.Concat([]string{SummaryName}, listed(f.dir), f.names)
	seen := make(map[string]bool, len(names))
	return slices.DeleteFunc(names, func(name string) bool {
		again := seen[name]
		seen[name] = true
		return again
	})
}

// listed returns the files that the summary in dir names, none if there is no
// readable one. A name that leads out of the folder is passed over: the file
// may come from anywhere.
func listed(dir string) []string {
	var s struct {
		Files map[string]string `json:"files"`
		Clips []struct {
			File string `json:"file"`
		} `json:"clips"`
	}
	text, err := os.ReadFile(filepath.Join(dir, SummaryName))
	if err != nil || json.Unmarshal(text, &s) != nil {
		return nil
	}
	var names []string
	for _, name := range s.Files {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, c := range s.Clips {
		names = append(names, c.File)
	}
	return slices.DeleteFunc(names, func(name string) bool {
		return !filepath.IsLocal(filepath.FromSlash(name)) || name == "."
	})
}

// prune removes the subfolders that the older results left empty.
func (f *Folder) prune(old []string) {
	for _, name := range old {
		if sub := filepath.Dir(filepath.FromSlash(name)); sub != "." {
			os.Remove(filepath.Join(f.dir, sub)) // fails, as it should, where anything is left
		}
	}
}

// summaryLast puts the summary behind all other names.
func summaryLast(names []string) []string {
	i := slices.Index(names, SummaryName)
	if i < 0 {
		return names
	}
	return append(slices.Delete(slices.Clone(names), i, i+1), SummaryName)
}

// Abort removes everything that was written and not committed. It may be
// called again, and after Commit, to no effect.
func (f *Folder) Abort() {
	if f.stage != "" {
		f.hold.Close()
		os.RemoveAll(f.stage)
		f.stage = ""
	}
	for _, dir := range f.made {
		os.Remove(dir)
	}
	f.made = nil
}

func (f *Folder) explain(name string, err error) error {
	return explain(filepath.Join(f.dir, filepath.FromSlash(name)), err)
}

// stagedFile is a file in the temporary folder.
type stagedFile struct {
	folder *Folder
	name   string
	file   *os.File
	buf    *bufio.Writer
}

func newStagedFile(f *Folder, name string, file *os.File) *stagedFile {
	return &stagedFile{folder: f, name: name, file: file, buf: bufio.NewWriterSize(file, 1<<16)}
}

func (s *stagedFile) Write(p []byte) (int, error) {
	n, err := s.buf.Write(p)
	if err != nil {
		err = s.folder.explain(s.name, err)
	}
	return n, err
}

// Close flushes and closes the file.
func (s *stagedFile) Close() error {
	if err := errors.Join(s.buf.Flush(), s.file.Close()); err != nil {
		return s.folder.explain(s.name, err)
	}
	return nil
}

// explain names the file in one line, with what to do about it.
func explain(path string, err error) error {
	cause := err
	var pe *fs.PathError
	var le *os.LinkError
	switch {
	case errors.As(err, &pe):
		cause = pe.Err
	case errors.As(err, &le):
		cause = le.Err
	}
	return fmt.Errorf("%s: %w; %s", path, cause, remedy(cause))
}
