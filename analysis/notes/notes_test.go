package notes

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	warm := 21.5
	for text, want := range map[string]Notes{
		"": {},
		"label = ' as found '\nposition = 'DU'\noil = 'none'\npart = 'third wheel'\ntemperature = 21.5\nstarted = 2031-05-04T21:30:05+02:00": {
			Label: "as found", Position: "dial up", Oil: "none", Part: "third wheel", Temperature: &warm, Started: "2031-05-04T21:30:05+02:00"},
		"started = 2031-05-04T21:30:05":          {Started: "2031-05-04T21:30:05"},
		"started = '2031-05-04 21:30'":           {Started: "2031-05-04 21:30"},
		"position = 'Pendant-Down'":              {Position: "pendant down"},
		"position = 'on its side, dial to left'": {Position: "on its side, dial to left"},
	} {
		got, err := Parse("night.notes.toml", []byte(text))
		if err != nil {
			t.Errorf("%q: %v", text, err)
			continue
		}
		if (got.Temperature == nil) != (want.Temperature == nil) || got.Temperature != nil && *got.Temperature != *want.Temperature {
			t.Errorf("%q: temperature %v", text, got.Temperature)
		}
		if got.Temperature, want.Temperature = nil, nil; got != want {
			t.Errorf("%q: %+v, want %+v", text, got, want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for text, want := range map[string]string{
		"label":                                "line 1",
		"colour = 'red'":                       "label, position, oil",
		"label = 5":                            "label",
		"started = 21:30:05":                   "2031-05-04",
		"started = 'yesterday'":                "2031-05-04",
		"temperature = 400":                    "Celsius",
		"oil = \"\\u001b[2J\"":                 "printed",
		"label = '" + strings.Repeat("x", 120): "line 1",
		"label = '" + strings.Repeat("x", 120) + "'": "shorten",
		strings.Repeat("#", 500):                     "shorten",
		strings.Repeat("#\n", 10000):                 "no notes",
	} {
		_, err := Parse("night.notes.toml", []byte(text))
		if err == nil || !strings.Contains(err.Error(), want) || !strings.HasPrefix(err.Error(), "night.notes.toml: ") || strings.Contains(err.Error(), "\n") {
			t.Errorf("%.40q: %v", text, err)
		}
	}
}

func TestLoadAndOver(t *testing.T) {
	recording := filepath.Join(t.TempDir(), "night.wav")
	if n, err := Load(recording); err != nil || n != (Notes{}) {
		t.Errorf("without a file: %+v, %v", n, err)
	}
	if err := os.WriteFile(File(recording), []byte("label = 'oiled'\noil = 'thin'\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	n, err := Load(recording)
	if err != nil || n.Label != "oiled" {
		t.Fatalf("%+v, %v", n, err)
	}
	cold := 4.0
	if n = n.Over(Notes{Label: "cleaned", Temperature: &cold}); n.Label != "cleaned" || n.Oil != "thin" || *n.Temperature != 4 {
		t.Errorf("%+v", n)
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte("label = 'a'\nposition = 'PU'\ntemperature = 21\nstarted = 2031-05-04T21:30:05Z"))
	f.Add([]byte("started = 2031-05-04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		n, err := Parse("x", data)
		if err != nil {
			if strings.Contains(err.Error(), "\n") {
				t.Errorf("an error of several lines: %q", err)
			}
			return
		}
		if again := n; again.Check() != nil || again != n {
			t.Errorf("%+v is not in order", n)
		}
	})
}
