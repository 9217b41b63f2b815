package export

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
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
		if err != nil || d.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		b.WriteString(filepath.ToSlash(name) + "=" + string(text) + "\n")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// begin starts new results in dir.
func begin(t *testing.T, dir string) *Folder {
	t.Helper()
	f, err := NewFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(f.Abort)
	return f
}

const oldSummary = `{"files":{"rate":"rate.png","evil":"../keep.txt"},"clips":[{"file":"clips/a.wav"}]}`

// older fills dir with the results of an earlier run and a file of the user's.
func older(t *testing.T, dir string) {
	t.Helper()
	f := begin(t, dir)
	put(t, f, SummaryName, oldSummary)
	put(t, f, "rate.png", "old")
	put(t, f, "clips/a.wav", "old")
	if err := f.Commit(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "notes.txt"), []byte("mine"), 0o666); err != nil {
		t.Fatal(err)
	}
}

const oldTree = "clips/a.wav=old\nnotes.txt=mine\nrate.png=old\nsummary.json=" + oldSummary + "\n"

func TestFolderReplacesWholeResults(t *testing.T) {
	base := t.TempDir()
	keep := filepath.Join(base, "keep.txt")
	if err := os.WriteFile(keep, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(base, "night.rundown")
	older(t, dir)
	f := begin(t, dir)
	put(t, f, "beats.csv", "new")
	put(t, f, SummaryName, `{}`)
	if got := tree(t, dir); !strings.Contains(got, "rate.png=old\n") {
		t.Errorf("before Commit the older results are already gone:\n%s", got)
	}
	if err := f.Commit(); err != nil {
		t.Fatal(err)
	}
	if got, want := tree(t, dir), "beats.csv=new\nnotes.txt=mine\nsummary.json={}\n"; got != want {
		t.Errorf("after Commit:\n%swant:\n%s", got, want)
	}
	if _, err := os.Stat(filepath.Join(dir, "clips")); !errors.Is(err, fs.ErrNotExist) {
		t.Error("the older run's empty clips folder is still there")
	}
	if _, err := os.Stat(keep); err != nil {
		t.Error("a summary that names a file outside the folder had it removed")
	}
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

// A file that cannot be moved into place, since a folder of the user's has its
// name, must bring the older results back.
func TestFolderFailedCommitPutsOldResultsBack(t *testing.T) {
	dir := t.TempDir()
	older(t, dir)
	f := begin(t, dir)
	put(t, f, "beats.csv", "new")
	put(t, f, "notes.txt/x.csv", "new") // notes.txt is a file: no folder can be made there
	put(t, f, SummaryName, `{}`)
	err := f.Commit()
	if err == nil || strings.Contains(err.Error(), "\n") {
		t.Fatalf("Commit: %v, want an error of one line", err)
	}
	if got := tree(t, dir); got != oldTree {
		t.Errorf("after a failed Commit:\n%s", got)
	}
}

func TestFolderErrorsNameFileAndRemedy(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	_, err := NewFolder(file)
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
	if err := os.Symlink("/dev/full", filepath.Join(f.stage, "beats.csv")); err != nil {
		t.Fatal(err)
	}
	full, err := os.OpenFile(filepath.Join(f.stage, "beats.csv"), os.O_WRONLY, 0)
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
