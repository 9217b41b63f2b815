package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestImports keeps the packages in the order of the data's way: what comes
// early knows nothing of what comes later.
func TestImports(t *testing.T) {
	rules := []struct{ from, never string }{
		{"rundown/dsp/", "rundown/analysis"},
		{"rundown/dsp/", "rundown/plotting/"},
		{"rundown/dsp/", "rundown/cmd/"},
		{"rundown/analysis", "rundown/plotting/"},
		{"rundown/analysis", "rundown/cmd/"},
		{"rundown/analysis", "rundown/dsp/synth"}, // the generator and the analyser share no formula
		{"rundown/plotting/", "rundown/cmd/"},
	}
	out, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Deps " "}}`, "rundown/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		for _, rule := range rules {
			if !strings.HasPrefix(words[0], rule.from) {
				continue
			}
			used[rule.from] = true
			for _, dep := range words[1:] {
				if strings.HasPrefix(dep, rule.never) {
					t.Errorf("%s depends on %s", words[0], dep)
				}
			}
		}
	}
	for _, rule := range rules {
		if !used[rule.from] {
			t.Errorf("no package begins with %s: the rule guards nothing", rule.from)
		}
	}
}

// TestCommentsNameFiles sees to it that a file which a comment sends its reader to is
// there, in the same folder.
func TestCommentsNameFiles(t *testing.T) {
	name := regexp.MustCompile(`\b[a-z_]+\.go\b`)
	named := 0
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") {
			return err
		}
		text, err := os.ReadFile(path)
		for line := range strings.Lines(string(text)) {
			if !strings.HasPrefix(strings.TrimSpace(line), "//") {
				continue
			}
			for _, file := range name.FindAllString(line, -1) {
				named++
				if _, err := os.Stat(filepath.Join(filepath.Dir(path), file)); err != nil {
					t.Errorf("%s names %s, which is not there", path, file)
				}
			}
		}
		return err
	})
	if err != nil || named == 0 {
		t.Errorf("%d files are named, %v", named, err)
	}
}
