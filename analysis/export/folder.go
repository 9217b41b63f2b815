package export

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"

	"rundown/dsp/wavio"
)

// SummaryName is the file name of the summary in a results folder.
const SummaryName = "summary.json"

// Folder is a results folder in the making. Everything is written to a
// temporary folder inside it, and Commit moves it into place; until then, and
// after Abort, what the folder held before is untouched. Names of files are
// relative, with slashes.
//
// Files are replaced and removed only where the folder's marker, which an
// earlier Commit left, lists them with their size and digest.
type Folder struct {
	dir   string
	names []string // patterns of all names that may be written
	root  *os.Root // of dir
	stage string   // name of the temporary folder in dir
	hold  *os.File // locked while that is in use; nil where it failed
	made  []string // folders that had to be created, innermost first
	files []*stagedFile
}

// NewFolder prepares dir, which is created if missing, for new results of the
// given names, which may be patterns as those of path.Match. It clears away what
// runs that were killed left there. It fails where another run is at work in the
// folder, and where anything that is not of an earlier run has one of the names.
// The caller must call Commit or Abort.
func NewFolder(dir string, names ...string) (*Folder, error) {
	f := &Folder{dir: dir, names: names, made: missing(dir)}
	if err := f.open(); err != nil {
		f.Abort()
		return nil, err
	}
	return f, nil
}

func (f *Folder) open() (err error) {
	if err := os.MkdirAll(f.dir, 0o777); err != nil {
		return f.explain("", err)
	}
	if f.root, err = os.OpenRoot(f.dir); err != nil {
		return f.explain("", err)
	}
	stage, err := os.MkdirTemp(f.dir, stagePattern)
	if err != nil {
		return f.explain("", err)
	}
	f.stage = filepath.Base(stage)
	if f.hold, err = hold(stage); err != nil {
		return f.explain("", err)
	}
	if err := f.root.Mkdir(f.staged(""), 0o777); err != nil {
		return f.explain("", err)
	}
	if err := f.clearLeftovers(); err != nil {
		return f.explain("", err)
	}
	_, _, err = f.survey()
	return err
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

// staged is where a file lies until it is in place.
func (f *Folder) staged(name string) string { return path.Join(f.stage, newName, name) }

// Create opens a new file for buffered writing. Its errors name the file and
// say what to do; the last of them comes from Close. It panics if the name is
// none of those given to NewFolder.
func (f *Folder) Create(name string) (io.WriteCloser, error) {
	if !f.expects(name) {
		panic(fmt.Sprintf("export: no file %q was announced", name))
	}
	if err := f.root.MkdirAll(path.Dir(f.staged(name)), 0o777); err != nil {
		return nil, f.explain(name, err)
	}
	file, err := f.root.OpenFile(f.staged(name), os.O_CREATE|os.O_EXCL|os.O_RDWR, 0o666)
	if err != nil {
		return nil, f.explain(name, err)
	}
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

// expects reports whether a file of that name may be written.
func (f *Folder) expects(name string) bool {
	return slices.ContainsFunc(f.names, func(pattern string) bool {
		match, err := path.Match(pattern, name)
		return match && err == nil
	})
}

// Abort removes everything that was written and not committed. It may be
// called again, and after Commit, to no effect.
func (f *Folder) Abort() {
	for _, s := range f.files {
		s.file.Close()
	}
	if f.stage != "" {
		removeStage(f.root, f.stage, f.hold)
		f.stage = ""
	}
	if f.root != nil {
		f.root.Close()
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
	file   *os.File
	buf    *bufio.Writer
	digest hash.Hash
	entry
}

func newStagedFile(f *Folder, name string, file *os.File) *stagedFile {
	s := &stagedFile{folder: f, file: file, digest: sha256.New(), entry: entry{Name: name}}
	s.buf = bufio.NewWriterSize(io.MultiWriter(file, s.digest), 1<<16)
	f.files = append(f.files, s)
	return s
}

func (s *stagedFile) Write(p []byte) (int, error) {
	n, err := s.buf.Write(p)
	s.Size += int64(n)
	if err != nil {
		err = s.folder.explain(s.Name, err)
	}
	return n, err
}

// Close brings what was written to the disk and closes the file.
func (s *stagedFile) Close() error {
	s.SHA256 = ""
	if err := errors.Join(s.buf.Flush(), s.file.Close()); err != nil {
		return s.folder.explain(s.Name, err)
	}
	s.SHA256 = hex.EncodeToString(s.digest.Sum(nil))
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
	return fmt.Errorf("%s: %w; %s", wavio.OneLine(path), cause, remedy(cause))
}

// parents lists the folders that a name with slashes lies in, innermost first.
func parents(name string) []string {
	var dirs []string
	for i := strings.LastIndexByte(name, '/'); i > 0; i = strings.LastIndexByte(name[:i], '/') {
		dirs = append(dirs, name[:i])
	}
	return dirs
}

// remedy says what to do about a failure to write.
func remedy(err error) string {
	switch {
	case errors.Is(err, errBusy):
		return "wait until it has ended, or choose another folder with --out"
	case diskFull(err):
		return "free some space or choose another folder with --out, and run it again"
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return "choose a folder you may write to with --out"
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, fs.ErrExist):
		return "a file stands where the folder should be: choose another with --out"
	}
	return "choose another folder with --out"
}

// diskFull reports whether err is the system's word for a full disk or an
// exhausted quota.
func diskFull(err error) bool {
	const windowsDiskFull = syscall.Errno(112) // ERROR_DISK_FULL, Windows System Error Codes
	if runtime.GOOS == "windows" && errors.Is(err, windowsDiskFull) {
		return true
	}
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
