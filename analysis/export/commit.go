package export

import (
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"syscall"
)

// Commit moves the new results into place and removes the older ones, once the
// new ones are safe on the disk. Where the system can exchange two folders, it does:
// then there is one whole set at any moment. Elsewhere, and where other folders lie
// in it, files are moved one by one, the last one written being
// the first to go and the last to come; if that fails, the older results are put
// back, and if the program is killed meanwhile, by the next run. All files must
// have been closed.
func (f *Folder) Commit() error {
	defer f.Abort()
	if err := f.seal(); err != nil {
		return err
	}
	own, foreign, err := f.survey()
	if err != nil {
		return err
	}
	if !f.exchange(own, foreign) {
		if err := f.replace(own); err != nil {
			return err
		}
	}
	f.made = nil
	return nil
}

// seal lists the new files in a marker, and brings all to the disk.
func (f *Folder) seal() error {
	var m marker
	names, dirs := []string{markerName}, []string{"."}
	for _, s := range f.files {
		m.Files, names = append(m.Files, s.entry), append(names, s.Name)
		for _, dir := range parents(s.Name) {
			if !slices.Contains(dirs, dir) {
				dirs = append(dirs, dir)
			}
		}
	}
	text, err := json.MarshalIndent(m, "", " ")
	if err != nil {
		return err
	}
	if err := f.root.WriteFile(f.staged(markerName), text, 0o666); err != nil {
		return f.explain(markerName, err)
	}
	errs := make([]error, len(names))
	var all sync.WaitGroup
	for i, name := range names { // at once: the disk then goes to work once for many
		all.Go(func() {
			if err := flush(f.root, f.staged(name), os.O_RDWR); err != nil {
				errs[i] = f.explain(name, err)
			}
		})
	}
	all.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return f.flushFolders(f.staged(""), dirs)
}

// flush brings a file to the disk.
func flush(root *os.Root, name string, flag int) error {
	file, err := root.OpenFile(name, flag, 0)
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}

// flushFolders brings the names in folders to the disk, where the system has a
// way.
func (f *Folder) flushFolders(base string, dirs []string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	for _, dir := range dirs {
		err := flush(f.root, path.Join(base, dir), os.O_RDONLY)
		if err != nil && !errors.Is(err, syscall.EINVAL) && !errors.Is(err, errors.ErrUnsupported) {
			return f.explain(dir, err)
		}
	}
	return nil
}

// exchange puts a folder with the new results in the place of the old one, and
// clears that away. Other files in it go by two names meanwhile. It reports false,
// with everything as it was, where that can't be done.
func (f *Folder) exchange(own []entry, foreign []string) bool {
	dir, err := filepath.EvalSymlinks(f.dir)
	if err != nil {
		return false
	}
	if dir, err = filepath.Abs(dir); err != nil {
		return false
	}
	info, err := os.Stat(dir)
	here, failed := os.Stat(".")
	if err != nil || failed != nil || os.SameFile(info, here) { // one does not pull a folder from under a shell
		return false
	}
	dirs := []string{"."}
	for _, name := range foreign {
		if f.root.MkdirAll(path.Dir(f.staged(name)), 0o777) != nil || f.root.Link(name, f.staged(name)) != nil {
			return false
		}
		dirs = append(dirs, parents(name)...)
	}
	if f.flushFolders(f.staged(""), dirs) != nil {
		return false
	}
	fresh, beside := filepath.Join(dir, filepath.FromSlash(f.staged(""))), besideOf(dir)+f.stage
	if os.Chmod(fresh, info.Mode()) != nil || os.Rename(fresh, beside) != nil {
		return false
	}
	if exchange(beside, dir) != nil {
		os.Rename(beside, fresh)
		return false
	}
	if parent, err := os.Open(filepath.Dir(dir)); err == nil {
		parent.Sync()
		parent.Close()
	}
	discard(f.root, own)
	f.unlink(f.root, dir)
	removeStage(f.root, f.stage, f.hold)
	f.stage = ""
	if os.Remove(beside) != nil { // something came into it just now
		entries, _ := os.ReadDir(beside)
		for _, e := range entries {
			os.Rename(filepath.Join(beside, e.Name()), filepath.Join(dir, e.Name()))
		}
		os.Remove(beside)
	}
	return true
}

// unlink removes from an old folder what is in dir by the same name, and the same
// file.
func (f *Folder) unlink(old *os.Root, dir string) {
	names, _ := f.list(old, ".")
	for _, name := range names {
		here, err := old.Lstat(name)
		there, failed := os.Lstat(filepath.Join(dir, filepath.FromSlash(name)))
		if err == nil && failed == nil && os.SameFile(here, there) {
			old.Remove(name)
			prune(old, []entry{{Name: name}})
		}
	}
}

// besideOf is how folders begin that are exchanged for one.
func besideOf(dir string) string {
	return filepath.Join(filepath.Dir(dir), "."+filepath.Base(dir))
}

// replace moves the older files aside and the new ones into place, one by one.
func (f *Folder) replace(own []entry) error {
	var moved [][2]string
	move := func(from, to, name string) error {
		err := f.root.MkdirAll(path.Dir(to), 0o777)
		if err == nil {
			if _, there := f.root.Lstat(to); there == nil {
				return inTheWay(filepath.Join(f.dir, filepath.FromSlash(to)))
			}
			err = f.root.Rename(from, to)
		}
		if err != nil {
			return f.explain(name, err)
		}
		moved = append(moved, [2]string{from, to})
		return nil
	}
	err := f.moveAll(own, move)
	if err != nil {
		for _, m := range slices.Backward(moved) {
			f.root.Rename(m[1], m[0])
		}
		for _, s := range f.files {
			prune(f.root, []entry{s.entry})
		}
		return err
	}
	prune(f.root, own)
	return nil
}

// moveAll moves the older files aside, the marker first, and the new ones into
// place, the marker last.
func (f *Folder) moveAll(own []entry, move func(from, to, name string) error) error {
	old := func(name string) string { return path.Join(f.stage, oldName, name) }
	if _, err := f.root.Lstat(markerName); !errors.Is(err, fs.ErrNotExist) {
		if err := move(markerName, old(markerName), markerName); err != nil {
			return err
		}
	}
	for _, e := range slices.Backward(own) {
		if err := move(e.Name, old(e.Name), e.Name); err != nil {
			return err
		}
	}
	dirs := []string{"."}
	for _, s := range f.files {
		if err := move(f.staged(s.Name), s.Name, s.Name); err != nil {
			return err
		}
		dirs = append(dirs, parents(s.Name)...)
	}
	if err := move(f.staged(markerName), markerName, markerName); err != nil {
		return err
	}
	return f.flushFolders("", slices.Compact(dirs))
}
