package export

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"

	"rundown/dsp/wavio"
)

// markerName is the file of a results folder that tells which of its files this
// program wrote.
const markerName = ".rundown.json"

// marker is what that file holds.
type marker struct {
	Files []entry `json:"files"` // in the order in which they were written
}

// entry is a file as it was written.
type entry struct {
	Name   string `json:"name"` // relative, with slashes
	Size   int64  `json:"bytes"`
	SHA256 string `json:"sha256"`
}

// readMarker returns what the marker of a folder lists, nothing where there is
// none.
func readMarker(root *os.Root) ([]entry, error) {
	const largest = 1 << 20
	info, err := root.Lstat(markerName)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	var m marker
	if err == nil && info.Mode().IsRegular() && info.Size() <= largest {
		var text []byte
		if text, err = root.ReadFile(markerName); err == nil {
			err = json.Unmarshal(text, &m)
		}
	} else if err == nil {
		err = errors.New("it is too large or no file")
	}
	if err != nil {
		return nil, inTheWay(filepath.Join(root.Name(), markerName))
	}
	return slices.DeleteFunc(m.Files, func(e entry) bool { return !fs.ValidPath(e.Name) }), nil
}

// stands reports whether the file is in a folder just as it was written. No link is
// followed.
func (e entry) stands(root *os.Root) bool {
	for _, dir := range parents(e.Name) {
		if info, err := root.Lstat(dir); err != nil || !info.IsDir() {
			return false
		}
	}
	info, err := root.Lstat(e.Name)
	if err != nil || !info.Mode().IsRegular() || info.Size() != e.Size {
		return false
	}
	file, err := root.Open(e.Name)
	if err != nil {
		return false
	}
	defer file.Close()
	digest := sha256.New()
	_, err = io.Copy(digest, file)
	return err == nil && hex.EncodeToString(digest.Sum(nil)) == e.SHA256
}

// survey tells the files of an earlier run, in the order in which they were
// written, from everything else in the folder. It fails where anything else has
// a name that is needed.
func (f *Folder) survey() (own []entry, foreign []string, err error) {
	marked, err := readMarker(f.root)
	if err != nil {
		return nil, nil, err
	}
	there, err := f.list(f.root, ".")
	if err != nil {
		return nil, nil, f.explain("", err)
	}
	for _, e := range marked {
		if i := slices.Index(there, e.Name); i >= 0 && f.expects(e.Name) && e.stands(f.root) {
			own, there = append(own, e), slices.Delete(there, i, i+1)
		}
	}
	for _, name := range there {
		if f.expects(name) || f.holds(name) {
			return nil, nil, inTheWay(filepath.Join(f.dir, filepath.FromSlash(name)))
		}
	}
	return own, there, nil
}

// inTheWay is the error for a file that is not the program's to replace.
func inTheWay(path string) error {
	return fmt.Errorf("%s: is in the way, and not as an earlier run wrote it; move it away, or choose another folder with --out", wavio.OneLine(path))
}

// holds reports whether files that may be written lie in a folder of that name.
func (f *Folder) holds(name string) bool {
	return slices.ContainsFunc(f.names, func(pattern string) bool { return path.Dir(pattern) == name })
}

// list names what is in a folder below a results folder, and in those below it
// to which anything may be written, but for the program's own bookkeeping.
func (f *Folder) list(root *os.Root, dir string) ([]string, error) {
	entries, err := fs.ReadDir(root.FS(), dir)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		name := path.Join(dir, e.Name())
		switch {
		case name == markerName, isStage(name) && e.IsDir():
		case e.IsDir() && f.holds(name):
			below, err := f.list(root, name)
			if err != nil {
				return nil, err
			}
			names = append(names, below...)
		default:
			names = append(names, name)
		}
	}
	return names, nil
}
