package train

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// faulty holds train files that must be refused, each with what the error has
// to say. It seeds the fuzz test as well.
var faulty = []struct {
	name, text string
	says       []string
}{
	{"empty", "", []string{"0 arbors", "[[arbor]]"}},
	{"syntax", "[[arbor]\nname = \"a\"", []string{"line 2", "]"}},
	{"wrong type", "[[arbor]]\nname = \"a\"\nwheel = \"many\"", []string{"arbor.wheel", "line 3"}},
	{"fraction of a tooth", "[[arbor]]\nname = \"a\"\nwheel = 9.5", []string{"arbor.wheel"}},
	{"count past 64 bits", "[[arbor]]\nname = \"a\"\nwheel = 99999999999999999999", []string{"line 3"}},
	{"unknown key", "[[arbor]]\nname = \"a\"\nescape = 15\nteeth = 3", []string{"arbor.teeth", "remove"}},
	{"unknown table", "[movement]\nmaker = \"x\"\n[[arbor]]\nname = \"a\"\nescape = 15", []string{"movement", "remove"}},
	{"no name", "[[arbor]]\nescape = 15", []string{"arbor 1", "name"}},
	{"blank name", "[[arbor]]\nname = \"  \"\nescape = 15", []string{"arbor 1", "name"}},
	{"name of two lines", "[[arbor]]\nname = \"a\\nb\"\nescape = 15", []string{"arbor 1", "a\ufffdb"}},
	{"long name", "[[arbor]]\nname = \"" + strings.Repeat("x", 1000) + "\"\nescape = 15", []string{"line 2"}},
	{"name too long for a table", "[[arbor]]\nname = \"" + strings.Repeat("x", 41) + "\"\nescape = 15", []string{"arbor 1", "40"}},
	{"two of a name", "[[arbor]]\nname = \"a\"\nwheel = 60\n[[arbor]]\nname = \"a\"\npinion = 8\nescape = 15", []string{"arbor 2", `"a"`}},
	{"no pinion", "[[arbor]]\nname = \"a\"\nwheel = 60\n[[arbor]]\nname = \"b\"\nescape = 15", []string{`"b"`, "pinion ="}},
	{"no wheel", "[[arbor]]\nname = \"a\"\n[[arbor]]\nname = \"b\"\npinion = 8\nescape = 15", []string{`"a"`, "wheel ="}},
	{"no escape wheel", "[[arbor]]\nname = \"a\"", []string{`"a"`, "escape ="}},
	{"wheel on the last", "[[arbor]]\nname = \"a\"\nwheel = 60\nescape = 15", []string{`"a"`, "remove it"}},
	{"escape wheel first", "[[arbor]]\nname = \"a\"\nwheel = 60\nescape = 15\n[[arbor]]\nname = \"b\"\npinion = 8\nescape = 15", []string{`"a"`, "slowest"}},
	{"negative pinion", "[[arbor]]\nname = \"a\"\nwheel = 60\n[[arbor]]\nname = \"b\"\npinion = -8\nescape = 15", []string{`"b"`, "pinion = -8"}},
	{"huge wheel", "[[arbor]]\nname = \"a\"\nwheel = 9223372036854775807\n[[arbor]]\nname = \"b\"\npinion = 8\nescape = 15", []string{`"a"`, "10000"}},
	{"two teeth", "[[arbor]]\nname = \"a\"\nescape = 2", []string{`"a"`, "escape = 2"}},
	{"negative turns", "[[arbor]]\nname = \"a\"\nescape = 15\nturns_per_hour = -1", []string{`"a"`, "positive"}},
	{"no number of turns", "[[arbor]]\nname = \"a\"\nescape = 15\nturns_per_hour = nan", []string{`"a"`, "positive"}},
	{"infinite turns", "[[arbor]]\nname = \"a\"\nescape = 15\nturns_per_hour = inf", []string{`"a"`, "positive"}},
	{"impossible rate", "[[arbor]]\nname = \"a\"\nescape = 15\nturns_per_hour = 1e9", []string{`"a"`, "3e+10", "turns_per_hour"}},
	{"turns given twice", "[[arbor]]\nname = \"a\"\nwheel = 60\nturns_per_hour = 60\n[[arbor]]\nname = \"b\"\npinion = 8\nescape = 15\nturns_per_hour = 450", []string{`"b"`, `"a"`, "keep one"}},
	{"too many arbors", strings.Repeat("[[arbor]]\nname = \"a\"\nwheel = 60\npinion = 8\n", 33), []string{"33 arbors", "32"}},
	{"too large", strings.Repeat("#\n", maxSize), []string{"16 KiB"}},
	{"long line", "\n" + strings.Repeat("a.", 300) + "a = 1", []string{"line 2", "400"}},
}

func TestParseRefuses(t *testing.T) {
	for _, c := range faulty {
		t.Run(c.name, func(t *testing.T) {
			_, err := Parse("mantel.toml", []byte(c.text))
			if err == nil {
				t.Fatal("accepted")
			}
			checkLine(t, err.Error())
			for _, s := range append(c.says, "mantel.toml: ") {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("%q does not say %q", err, s)
				}
			}
		})
	}
}

func checkLine(t *testing.T, s string) {
	t.Helper()
	if strings.ContainsAny(s, "\n\r") || len(s) > 1000 {
		t.Errorf("not one line of readable length: %q", s)
	}
}

func TestLoad(t *testing.T) {
	path := filepath.Join(t.TempDir(), "mantel.toml")
	if err := os.WriteFile(path, []byte(example), 0o644); err != nil {
		t.Fatal(err)
	}
	tr, err := Load(path)
	if err != nil || len(tr.Arbors) != 5 {
		t.Fatalf("got %v, %v", tr, err)
	}
	if _, err := Load(path + ".gone"); err == nil || !strings.Contains(err.Error(), path+".gone") {
		t.Errorf("missing file: %v", err)
	}
}

// Deep nesting, which makes the decoder slow, has to stay harmless.
func TestParseOfHostileFilesIsQuick(t *testing.T) {
	deep := strings.Repeat("a.", (maxLine-3)/2)
	for _, text := range []string{
		strings.Repeat("["+deep+"a]\n", maxSize/maxLine),
		strings.Repeat("["+deep+"a]\n"+deep[:200]+"b = 1\n", maxSize/(maxLine+300)),
		"a = " + strings.Repeat(strings.Repeat("[", maxLine-10)+"\n", maxSize/maxLine),
		strings.Repeat("[[arbor]]\n", maxSize/10),
	} {
		start := time.Now()
		if _, err := Parse("hostile.toml", []byte(text)); err == nil {
			t.Errorf("%.40q… accepted", text)
		}
		if d := time.Since(start); d > 2*time.Second {
			t.Errorf("%.40q… took %v", text, d)
		}
	}
}

// FuzzParse checks that any file is either refused in one line or gives a train
// whose every period is positive.
func FuzzParse(f *testing.F) {
	f.Add([]byte(example))
	for _, c := range faulty {
		if len(c.text) < 1024 {
			f.Add([]byte(c.text))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		tr, err := Parse("fuzz.toml", data)
		if err != nil {
			checkLine(t, err.Error())
			return
		}
		for _, c := range tr.Candidates() {
			if c.Beats.Sign() <= 0 || c.Teeth < 1 {
				t.Errorf("%s: %v beats, %d teeth", c.Name, c.Beats, c.Teeth)
			}
		}
		if n := tr.BeatsPerHour(); n != 0 && !(n >= minPerHour && n <= maxPerHour) {
			t.Errorf("%v beats per hour", n)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	for b.Loop() {
		if _, err := Parse("train.toml", []byte(example)); err != nil {
			b.Fatal(err)
		}
	}
}
