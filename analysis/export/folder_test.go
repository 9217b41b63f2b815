package export

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// put writes one file of the given text.
func put(t *testing.T, f *Folder, name, text string) {
	t.Helper()
	err := f.Write(name, func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
}

// tree lists the files below dir with their text, one a line.
func tree(t *testing.T, dir string) string {
	t.Helper()
	var b strings.Builder
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || d.Name() == markerName {
			return err
		}
		text, err := os.ReadFile(path)
		if d.Type()&fs.ModeSymlink != 0 {
			text, err = []byte("link"), nil
		}
		name, _ := filepath.Rel(dir, path)
		b.WriteString(filepath.ToSlash(name) + "=" + string(text) + "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// names are those of the results in these tests.
var names = []string{SummaryName, "rate.png", "beats.csv", "clips/*.wav"}

// begin starts new results in dir.
func begin(t *testing.T, dir string) *Folder {
	t.Helper()
	f, err := NewFolder(dir, names...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(f.Abort)
	return f
}

// commit writes whole results: names and texts by turns.
func commit(t *testing.T, dir string, files ...string) {
	t.Helper()
	f := begin(t, dir)
	for i := 0; i < len(files); i += 2 {
		put(t, f, files[i], files[i+1])
	}
	if err := f.Commit(); err != nil {
		t.Fatal(err)
	}
}

// write makes a file as a user would.
func write(t *testing.T, text string, path ...string) {
	t.Helper()
	name := filepath.Join(path...)
	if err := os.MkdirAll(filepath.Dir(name), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
		t.Fatal(err)
	}
}

// older fills dir with the results of an earlier run and a file of the user's.
func older(t *testing.T, dir string) {
	t.Helper()
	commit(t, dir, "clips/a.wav", "old", "rate.png", "old", SummaryName, "old")
	write(t, "mine", dir, "notes.txt")
}

const oldTree = "clips/a.wav=old\nnotes.txt=mine\nrate.png=old\nsummary.json=old\n"

func TestFolderReplacesWholeResults(t *testing.T) {
	for _, mine := range []string{"", "notes.txt", "notes/mine.txt"} {
		t.Run("beside "+mine, func(t *testing.T) {
			base := t.TempDir()
			dir := filepath.Join(base, "night.rundown")
			older(t, dir)
			os.Remove(filepath.Join(dir, "notes.txt"))
			notes := ""
			if mine != "" {
				write(t, "mine", dir, mine)
				notes = mine + "=mine\n"
			}
			f := begin(t, dir)
			put(t, f, "beats.csv", "new")
			put(t, f, SummaryName, "new")
			if got := tree(t, dir); !strings.Contains(got, "rate.png=old\n") {
				t.Errorf("before Commit the older results are already gone:\n%s", got)
			}
			if err := f.Commit(); err != nil {
				t.Fatal(err)
			}
			if got, want := tree(t, dir), "beats.csv=new\n"+notes+"summary.json=new\n"; got != want {
				t.Errorf("after Commit:\n%swant:\n%s", got, want)
			}
			if _, err := os.Stat(filepath.Join(dir, "clips")); !errors.Is(err, fs.ErrNotExist) {
				t.Error("the older run's empty clips folder is still there")
			}
			if entries, _ := os.ReadDir(base); len(entries) != 1 {
				t.Errorf("beside the folder: %v", entries)
			}
		})
	}
}

// What an earlier run did not write, or somebody changed since, is neither
// replaced nor removed, and stands in the way only where its name is needed.
func TestFolderLeavesWhatIsNotItsOwn(t *testing.T) {
	link := func(t *testing.T, to string, path ...string) {
		if err := os.Symlink(to, filepath.Join(path...)); err != nil {
			t.Skip("skipped: no links here")
		}
	}
	forged := func(name, text string) string {
		return fmt.Sprintf(`{"files":[{"name":%q,"bytes":%d,"sha256":"%x"}]}`, name, len(text), sha256.Sum256([]byte(text)))
	}
	for name, c := range map[string]struct {
		make     func(t *testing.T, base, dir string)
		inTheWay string // none: the new results come into place
	}{
		"a file of that name":   {func(t *testing.T, _, dir string) { write(t, "mine", dir, "rate.png") }, "rate.png"},
		"a folder of that name": {func(t *testing.T, _, dir string) { write(t, "mine", dir, "rate.png", "x") }, "rate.png"},
		"a clip":                {func(t *testing.T, _, dir string) { write(t, "mine", dir, "clips", "b.wav") }, "clips/b.wav"},
		"a file for a folder":   {func(t *testing.T, _, dir string) { write(t, "mine", dir, "clips") }, "clips"},
		"a changed file": {func(t *testing.T, _, dir string) {
			older(t, dir)
			write(t, "odd", dir, "rate.png")
		}, "rate.png"},
		"a link for a folder": {func(t *testing.T, base, dir string) {
			write(t, "mine", base, "elsewhere", "a.wav")
			link(t, filepath.Join(base, "elsewhere"), dir, "clips")
		}, "clips"},
		"a link for a file": {func(t *testing.T, base, dir string) {
			older(t, dir)
			write(t, "old", base, "mine.png")
			os.Remove(filepath.Join(dir, "rate.png"))
			link(t, filepath.Join(base, "mine.png"), dir, "rate.png")
		}, "rate.png"},
		"a marker that is none": {func(t *testing.T, _, dir string) { write(t, "{", dir, markerName) }, markerName},
		"a link for a marker": {func(t *testing.T, base, dir string) {
			write(t, forged("rate.png", "mine"), base, "marker")
			write(t, "mine", dir, "rate.png")
			link(t, filepath.Join(base, "marker"), dir, markerName)
		}, markerName},
		"a summary that lists it": {func(t *testing.T, _, dir string) {
			write(t, "mine", dir, "night.wav")
			write(t, `{"files":{"rate":"night.wav"},"clips":[{"file":"night.wav"}]}`, dir, SummaryName)
		}, SummaryName},
		"a marker that lists it": {func(t *testing.T, _, dir string) {
			write(t, "mine", dir, "night.wav")
			write(t, forged("night.wav", "mine"), dir, markerName)
		}, ""},
		"a marker that leads out": {func(t *testing.T, base, dir string) {
			write(t, "mine", base, "rate.png")
			write(t, forged("../rate.png", "mine"), dir, markerName)
		}, ""},
		"other files": {func(t *testing.T, _, dir string) {
			write(t, "mine", dir, "rate.txt")
			write(t, "mine", dir, "clips", "notes.txt")
			write(t, "mine", dir, "charts", "rate.png")
		}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			base := t.TempDir()
			dir := filepath.Join(base, "night.rundown")
			if err := os.Mkdir(dir, 0o777); err != nil {
				t.Fatal(err)
			}
			c.make(t, base, dir)
			before := tree(t, base)
			f, err := NewFolder(dir, names...)
			if c.inTheWay != "" {
				if err == nil || !strings.HasPrefix(err.Error(), filepath.Join(dir, c.inTheWay)+": is in the way") {
					t.Errorf("error %v", err)
				}
			} else if err != nil {
				t.Fatal(err)
			} else {
				put(t, f, "beats.csv", "new")
				if err := f.Commit(); err != nil {
					t.Fatal(err)
				}
				before = "night.rundown/beats.csv=new\n" + before
			}
			if after := tree(t, base); !sameLines(after, before) {
				t.Errorf("before:\n%safter:\n%s", before, after)
			}
		})
	}
}

// sameLines tells whether two texts are of the same lines, in whatever order.
func sameLines(a, b string) bool {
	x, y := strings.SplitAfter(a, "\n"), strings.SplitAfter(b, "\n")
	slices.Sort(x)
	slices.Sort(y)
	return slices.Equal(x, y)
}

func TestFolderAbortLeavesNoTrace(t *testing.T) {
	t.Run("older results", func(t *testing.T) {
		dir := t.TempDir()
		older(t, dir)
		f := begin(t, dir)
		put(t, f, "clips/b.wav", "new")
		f.Abort()
		if got := tree(t, dir); got != oldTree {
			t.Errorf("after Abort:\n%s", got)
		}
	})
	t.Run("new folders", func(t *testing.T) {
		base := t.TempDir()
		f := begin(t, filepath.Join(base, "nights", "one"))
		put(t, f, "clips/b.wav", "new")
		f.Abort()
		if left, _ := os.ReadDir(base); len(left) > 0 {
			t.Errorf("after Abort %v is left", left)
		}
	})
}

// What comes to stand in the way while the program works is left alone, and the
// older results stay.
func TestFolderInTheWayAtLast(t *testing.T) {
	dir := t.TempDir()
	older(t, dir)
	f := begin(t, dir)
	put(t, f, "beats.csv", "new")
	put(t, f, SummaryName, "new")
	write(t, "mine", dir, "beats.csv")
	if err := f.Commit(); err == nil || !strings.Contains(err.Error(), "beats.csv: is in the way") {
		t.Errorf("Commit: %v", err)
	}
	if got := tree(t, dir); got != "beats.csv=mine\n"+oldTree {
		t.Errorf("after a failed Commit:\n%s", got)
	}
}

// A move that fails brings the older results back.
func TestFolderFailedMovePutsOldResultsBack(t *testing.T) {
	dir := t.TempDir()
	older(t, dir)
	f := begin(t, dir)
	put(t, f, "clips/b.wav", "new")
	put(t, f, "beats.csv", "new")
	put(t, f, SummaryName, "new")
	own, _, err := f.survey()
	if err != nil {
		t.Fatal(err)
	}
	write(t, "mine", dir, "beats.csv") // since the survey
	if err := f.replace(own); err == nil || !strings.Contains(err.Error(), "beats.csv: is in the way") {
		t.Errorf("replace: %v", err)
	}
	f.Abort()
	if got := tree(t, dir); got != "beats.csv=mine\n"+oldTree {
		t.Errorf("after a failed move:\n%s", got)
	}
}

func TestFolderErrorsNameFileAndRemedy(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	_, err := NewFolder(file, names...)
	if err == nil || !strings.Contains(err.Error(), file) || !strings.Contains(err.Error(), "a file stands") {
		t.Errorf("NewFolder over a file: %v", err)
	}
	cases := []struct {
		err  error
		want string
	}{
		{&fs.PathError{Op: "write", Path: "/x/.rundown-1/beats.csv", Err: syscall.ENOSPC}, "free some space"},
		{&os.LinkError{Op: "rename", Old: "a", New: "b", Err: syscall.EACCES}, "you may write to"},
		{io.ErrShortWrite, "--out"},
	}
	for _, c := range cases {
		got := explain("night.rundown/beats.csv", c.err).Error()
		if !strings.HasPrefix(got, "night.rundown/beats.csv: ") || !strings.Contains(got, c.want) || strings.Contains(got, ".rundown-1") {
			t.Errorf("explain(%v) = %q, want the name and %q", c.err, got, c.want)
		}
	}
}

// A device that is always full stands for a full disk.
func TestFolderFullDisk(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("skipped: only Linux has /dev/full")
	}
	f := begin(t, t.TempDir())
	full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	s := newStagedFile(f, "beats.csv", full)
	if _, err := s.Write(make([]byte, 1<<20)); err == nil || !strings.Contains(err.Error(), "free some space") {
		t.Errorf("Write to a full disk: %v", err)
	}
	if err := s.Close(); err == nil || !strings.Contains(err.Error(), "free some space") {
		t.Errorf("Close on a full disk: %v", err)
	}
}
