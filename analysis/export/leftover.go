package export

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// Names within a results folder while results are made.
const (
	stagePattern = ".rundown-*" // temporary folders
	holdName     = ".running"   // in one: a file that its run holds locked
	newName      = "new"        // in one: the new results
	oldName      = "old"        // in one: the older results, while the new ones move in
)

// errBusy is why a folder can't be written to by two runs at once.
var errBusy = errors.New("another run is writing its results there")

// isStage reports whether a name is that of a temporary folder.
func isStage(name string) bool {
	number, ours := strings.CutPrefix(name, strings.TrimSuffix(stagePattern, "*"))
	return ours && number != "" && strings.Trim(number, "0123456789") == ""
}

// hold marks a temporary folder as that of a run that is alive. The system
// drops the lock when the process ends, however it does.
func hold(stage string) (*os.File, error) {
	file, err := os.Create(filepath.Join(stage, holdName))
	if errors.Is(err, fs.ErrNotExist) || err == nil && errors.Is(lock(file), errLocked) {
		file.Close()
		return nil, errBusy // with clearing it away
	}
	return file, err
}

// removeStage removes a temporary folder, last of all what holds it.
func removeStage(root *os.Root, stage string, hold *os.File) {
	root.RemoveAll(path.Join(stage, newName))
	root.RemoveAll(path.Join(stage, oldName))
	hold.Close()
	root.Remove(path.Join(stage, holdName))
	root.Remove(stage)
}

// clearLeftovers removes what runs that were killed left in the folder and beside
// it. Where one died while its results moved into place, the older ones are put
// back first. What cannot be told to be dead is left alone; of a run that is
// alive, the error is errBusy.
func (f *Folder) clearLeftovers() error {
	entries, err := fs.ReadDir(f.root.FS(), ".")
	if err != nil {
		return err
	}
	for _, e := range entries {
		if !e.IsDir() || !isStage(e.Name()) || e.Name() == f.stage {
			continue
		}
		if err := f.clear(e.Name()); err != nil {
			return err
		}
	}
	dir, err := filepath.EvalSymlinks(f.dir)
	if err != nil {
		return err
	}
	f.clearBeside(dir)
	return nil
}

// clear removes the temporary folder of a dead run.
func (f *Folder) clear(stage string) error {
	name := path.Join(stage, holdName)
	if info, err := f.root.Lstat(name); err != nil || !info.Mode().IsRegular() {
		f.root.Remove(stage) // fails, as it should, where anything is left
		return nil
	}
	file, err := f.root.OpenFile(name, os.O_RDWR, 0)
	if err != nil {
		return nil
	}
	switch err := lock(file); {
	case errors.Is(err, errLocked):
		file.Close()
		return errBusy
	case err != nil:
		file.Close()
		return nil
	}
	f.restore(stage)
	removeStage(f.root, stage, file)
	return nil
}

// restore undoes a move that was not finished: there is no marker, which comes
// last.
func (f *Folder) restore(stage string) {
	if _, err := f.root.Lstat(markerName); !errors.Is(err, fs.ErrNotExist) {
		return
	}
	var m marker
	text, err := f.root.ReadFile(path.Join(stage, newName, markerName))
	if err != nil || json.Unmarshal(text, &m) != nil {
		return
	}
	discard(f.root, f.own(m.Files, f.root))
	aside := path.Join(stage, oldName)
	var names []string
	fs.WalkDir(f.root.FS(), aside, func(name string, d fs.DirEntry, err error) error {
		if name = strings.TrimPrefix(name, aside+"/"); err == nil && !d.IsDir() && name != markerName {
			names = append(names, name)
		}
		return nil
	})
	for _, name := range append(names, markerName) {
		if _, err := f.root.Lstat(name); err == nil {
			continue // the user's
		}
		if f.root.MkdirAll(path.Dir(name), 0o777) == nil {
			f.root.Rename(path.Join(aside, name), name)
		}
	}
}

// own returns those of the files listed that may be removed from a folder.
func (f *Folder) own(listed []entry, root *os.Root) []entry {
	return slices.DeleteFunc(listed, func(e entry) bool { return !f.expects(e.Name) || !e.stands(root) })
}

// discard removes files of a run and their marker, and the folders that are left
// empty.
func discard(root *os.Root, files []entry) {
	for _, e := range files {
		root.Remove(e.Name)
	}
	prune(root, files)
	root.Remove(markerName)
}

// prune removes the folders that files of a run left empty.
func prune(root *os.Root, files []entry) {
	for _, e := range files {
		for _, dir := range parents(e.Name) {
			root.Remove(dir) // fails, as it should, where anything is left
		}
	}
}

// clearBeside removes the folders that runs which were killed left beside dir as
// they exchanged one for it.
func (f *Folder) clearBeside(dir string) {
	entries, _ := os.ReadDir(filepath.Dir(dir))
	for _, e := range entries {
		rest, found := strings.CutPrefix(e.Name(), filepath.Base(besideOf(dir)))
		if !found || !isStage(rest) || !e.IsDir() {
			continue
		}
		path := filepath.Join(filepath.Dir(dir), e.Name())
		if root, err := os.OpenRoot(path); err == nil {
			f.clearOld(root, dir)
			root.Close()
			os.Remove(path) // fails, as it should, where anything is left
		}
	}
}

// clearOld removes a set of results that was to be exchanged for the one in dir, and
// the temporary folder in it.
func (f *Folder) clearOld(root *os.Root, dir string) {
	marked, err := readMarker(root)
	if err != nil {
		return
	}
	discard(root, f.own(marked, root))
	f.unlink(root, dir)
	entries, _ := fs.ReadDir(root.FS(), ".")
	for _, e := range entries {
		if e.IsDir() && isStage(e.Name()) {
			removeStage(root, e.Name(), nil)
		}
	}
}
