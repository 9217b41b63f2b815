package export

import (
	"errors"
	"os"
	"path"
	"path/filepath"
	"strings"
	"testing"
)

// die ends a run as kill -9 does: the system closes its files, and nothing else
// happens.
func die(f *Folder) { f.hold.Close() }

// stages counts the temporary folders in dir.
func stages(t *testing.T, dir string) int {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, stagePattern))
	if err != nil {
		t.Fatal(err)
	}
	return len(found)
}

func TestFolderClearsLeftoversOfDeadRuns(t *testing.T) {
	dir := t.TempDir()
	older(t, dir)
	dead := begin(t, dir)
	put(t, dead, "clips/b.wav", "half")
	die(dead)
	f := begin(t, dir)
	if n := stages(t, dir); n != 1 {
		t.Errorf("%d temporary folders, want that of the run alive", n)
	}
	f.Abort()
	if got := tree(t, dir); got != oldTree {
		t.Errorf("after a run that was killed:\n%s", got)
	}
}

// A second run into the same folder is refused, and does not take the first one's
// work away.
func TestFolderRefusesASecondRun(t *testing.T) {
	dir := t.TempDir()
	first := begin(t, dir)
	put(t, first, "beats.csv", "first")
	if _, err := NewFolder(dir, names...); err == nil || !strings.Contains(err.Error(), "another run is writing") {
		t.Errorf("the second run: %v", err)
	}
	put(t, first, SummaryName, "first")
	if err := first.Commit(); err != nil {
		t.Fatal(err)
	}
	if got, want := tree(t, dir), "beats.csv=first\nsummary.json=first\n"; got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
	begin(t, dir).Abort()
}

// What only looks like a temporary folder is the user's.
func TestFolderLeavesUnknownFolders(t *testing.T) {
	dir := t.TempDir()
	mine := filepath.Join(dir, ".rundown-notes")
	if err := os.Mkdir(mine, 0o777); err != nil {
		t.Fatal(err)
	}
	begin(t, dir).Abort()
	if _, err := os.Stat(mine); err != nil {
		t.Error(err)
	}
}

// Killed at any step of a move one by one, the older results come back whole, or
// the new ones stay.
func TestFolderKilledWhileMoving(t *testing.T) {
	errDead := errors.New("killed")
	for steps := 0; ; steps++ {
		dir := t.TempDir()
		older(t, dir)
		dead := begin(t, dir)
		put(t, dead, "clips/b.wav", "new")
		put(t, dead, "rate.png", "new")
		put(t, dead, SummaryName, "new")
		if err := dead.seal(); err != nil {
			t.Fatal(err)
		}
		own, _, err := dead.survey()
		if err != nil {
			t.Fatal(err)
		}
		left := steps
		err = dead.moveAll(own, func(from, to, _ string) error {
			if left--; left < 0 {
				return errDead
			}
			if err := dead.root.MkdirAll(path.Dir(to), 0o777); err != nil {
				t.Fatal(err)
			}
			return dead.root.Rename(from, to)
		})
		die(dead)
		if got := tree(t, dir); strings.Contains(got, "\nsummary.json=old") && !strings.Contains(got, "\nrate.png=old") {
			t.Errorf("killed after %d moves, there is a summary without its files:\n%s", steps, got)
		}
		begin(t, dir).Abort()
		want := oldTree
		if err == nil {
			want = "clips/b.wav=new\nnotes.txt=mine\nrate.png=new\nsummary.json=new\n"
		}
		if got := tree(t, dir); got != want {
			t.Errorf("killed after %d moves:\n%s", steps, got)
		}
		if err == nil {
			break
		}
	}
}

// Killed before or after two folders were exchanged, one whole set is there at
// once, and the other is cleared away by the next run.
func TestFolderKilledAtAnExchange(t *testing.T) {
	const oldSet, newSet = "clips/a.wav=old\nnotes.txt=mine\nsummary.json=old\n", "clips/b.wav=new\nnotes.txt=mine\nsummary.json=new\n"
	for done, want := range map[bool]string{false: oldSet, true: newSet} {
		base := t.TempDir()
		dir := filepath.Join(base, "night.rundown")
		commit(t, dir, "clips/a.wav", "old", SummaryName, "old")
		write(t, "mine", dir, "notes.txt")
		dead := begin(t, dir)
		put(t, dead, "clips/b.wav", "new")
		put(t, dead, SummaryName, "new")
		if err := dead.seal(); err != nil {
			t.Fatal(err)
		}
		if err := dead.root.Link("notes.txt", dead.staged("notes.txt")); err != nil {
			t.Skipf("skipped: no file goes by two names here: %v", err)
		}
		beside := besideOf(dir) + dead.stage
		if err := os.Rename(filepath.Join(dir, filepath.FromSlash(dead.staged(""))), beside); err != nil {
			t.Fatal(err)
		}
		if done {
			if err := exchange(beside, dir); err != nil {
				t.Skipf("skipped: folders can't be exchanged here: %v", err)
			}
		}
		die(dead)
		if got := tree(t, dir); !done && !strings.Contains(got, want) || done && got != want {
			t.Errorf("at once:\n%swant:\n%s", got, want)
		}
		begin(t, dir).Abort()
		if got := tree(t, dir); got != want {
			t.Errorf("after the next run:\n%swant:\n%s", got, want)
		}
		if entries, _ := os.ReadDir(base); len(entries) != 1 {
			t.Errorf("beside the folder: %v", entries)
		}
	}
}
