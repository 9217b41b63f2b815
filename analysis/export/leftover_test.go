package export

import (
	"os"
	"path/filepath"
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

// A second run into the same folder must not take the first one's work away.
func TestFolderLeavesRunsThatAreAlive(t *testing.T) {
	dir := t.TempDir()
	first := begin(t, dir)
	put(t, first, "beats.csv", "first")
	begin(t, dir).Abort()
	put(t, first, SummaryName, `{}`)
	if err := first.Commit(); err != nil {
		t.Fatal(err)
	}
	if got, want := tree(t, dir), "beats.csv=first\nsummary.json={}\n"; got != want {
		t.Errorf("got\n%swant\n%s", got, want)
	}
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

// rename moves a file, into a folder that may be missing.
func rename(t *testing.T, from, to string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(to), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(from, to); err != nil {
		t.Fatal(err)
	}
}

// Killed at any step of a move, the older results come back whole, or the new
// ones stay.
func TestFolderKilledWhileMoving(t *testing.T) {
	moves := []string{"summary.json", "clips/a.wav", "rate.png"} // in this order
	for done := range len(moves) + 1 {
		dir := t.TempDir()
		older(t, dir)
		dead := begin(t, dir)
		put(t, dead, "rate.png", "new")
		put(t, dead, SummaryName, `{}`)
		for _, name := range moves[:done] {
			rename(t, filepath.Join(dir, name), filepath.Join(dead.stage, asideName, name))
		}
		if done == len(moves) {
			rename(t, filepath.Join(dead.stage, "rate.png"), filepath.Join(dir, "rate.png"))
		}
		die(dead)
		begin(t, dir).Abort()
		if got := tree(t, dir); got != oldTree {
			t.Errorf("killed after %d moves:\n%s", done, got)
		}
	}
}

func TestFolderKilledBetweenMoveAndClearing(t *testing.T) {
	dir := t.TempDir()
	older(t, dir)
	dead := begin(t, dir)
	put(t, dead, SummaryName, `{}`)
	aside := filepath.Join(dead.stage, asideName)
	rename(t, filepath.Join(dir, SummaryName), filepath.Join(aside, SummaryName))
	rename(t, filepath.Join(dead.stage, SummaryName), filepath.Join(dir, SummaryName))
	die(dead)
	begin(t, dir).Abort()
	if text, err := os.ReadFile(filepath.Join(dir, SummaryName)); err != nil || string(text) != `{}` {
		t.Errorf("%s, %v: want the new summary", text, err)
	}
}
