// Package notes holds what the maker notes of a run: in a file beside the
// recording, or as flags of the analysis.
package notes

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
	"unicode"

	"github.com/BurntSushi/toml"
)

// Notes are what was noted of a run. Texts are one line of what can be printed;
// what was not noted is empty.
type Notes struct {
	Label       string   `json:"label,omitempty" toml:"label"`       // of the state of the movement; runs of one label are alike
	Position    string   `json:"position,omitempty" toml:"position"` // as Position has it
	Oil         string   `json:"oil,omitempty" toml:"oil"`
	Part        string   `json:"part,omitempty" toml:"part"` // that was made, fitted or worked on
	Temperature *float64 `json:"temperature_c,omitempty" toml:"temperature"`
	Started     string   `json:"started,omitempty" toml:"started"` // wall clock at the first sample, as Moment reads it
}

// Suffix takes the place of a recording's extension in the name of its notes.
const Suffix = ".notes.toml"

// File is the name of the notes of a recording.
func File(recording string) string {
	return strings.TrimSuffix(recording, filepath.Ext(recording)) + Suffix
}

// Bounds of a file of notes, in bytes; see the like ones of package train.
const (
	maxSize = 16 << 10
	maxLine = 400
)

// Load reads the notes beside a recording; there are none where there is no such
// file. The error, of one line, names the file and says what to do.
func Load(recording string) (Notes, error) {
	path := File(recording)
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return Notes{}, nil
	}
	if err != nil {
		return Notes{}, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxSize+1))
	if err != nil {
		return Notes{}, err
	}
	return Parse(path, data)
}

// Parse reads the content of a file of notes; name is the file's, for errors.
func Parse(name string, data []byte) (Notes, error) {
	n, err := decode(data)
	if err == nil {
		err = n.Check()
	}
	if err != nil {
		return Notes{}, fmt.Errorf("%s: %w", name, err)
	}
	return n, nil
}

func decode(data []byte) (n Notes, err error) {
	if len(data) > maxSize {
		return n, fmt.Errorf("larger than %d KiB: these are no notes", maxSize>>10)
	}
	for i, line := range bytes.Split(data, []byte("\n")) {
		if len(line) > maxLine {
			return n, fmt.Errorf("line %d is longer than %d bytes: shorten it", i+1, maxLine)
		}
	}
	file := struct {
		Notes
		Started any `toml:"started"` // a date and time of TOML, or a text
	}{}
	meta, err := toml.Decode(string(data), &file)
	if err != nil {
		return n, errors.New(strings.TrimPrefix(strings.Join(strings.Fields(err.Error()), " "), "toml: "))
	}
	if extra := meta.Undecoded(); len(extra) > 0 {
		return n, fmt.Errorf("unknown key %.40q: remove it; notes have label, position, oil, part, temperature and started", extra[0].String())
	}
	n = file.Notes
	n.Started, err = written(file.Started)
	return n, err
}

// written is a time as Moment reads it: that of TOML without a zone, or without
// a date, has a zone by the name of what it is.
func written(started any) (string, error) {
	switch t := started.(type) {
	case nil:
		return "", nil
	case string:
		return t, nil
	case time.Time:
		switch zone := t.Location().String(); {
		case zone == "datetime-local":
			return t.Format(local), nil
		case !strings.HasSuffix(zone, "-local"):
			return t.Format(time.RFC3339), nil
		}
	}
	return "", errors.New("started: write a date and time as 2031-05-04T21:30:05")
}

// Check puts the notes in order: texts trimmed, the position by its name. The
// error says which is wrong and what to write.
func (n *Notes) Check() error {
	for _, text := range []struct {
		name string
		of   *string
	}{{"label", &n.Label}, {"position", &n.Position}, {"oil", &n.Oil}, {"part", &n.Part}, {"started", &n.Started}} {
		*text.of = strings.TrimSpace(*text.of)
		if len(*text.of) > 100 {
			return fmt.Errorf("%s: longer than 100 bytes: shorten it", text.name)
		}
		if strings.ContainsFunc(*text.of, func(r rune) bool { return !unicode.IsPrint(r) }) {
			return fmt.Errorf("%s %q: holds what can't be printed: remove it", text.name, *text.of)
		}
	}
	n.Position = Position(n.Position)
	if t := n.Temperature; t != nil && !(math.Abs(*t) <= 100) {
		return fmt.Errorf("temperature %g: must be from -100 to 100, in degrees Celsius", *t)
	}
	if n.Started != "" {
		if _, _, err := Moment(n.Started); err != nil {
			return fmt.Errorf("started %w", err)
		}
	}
	return nil
}

// Over returns the notes with what others say in the place of what they say too.
func (n Notes) Over(others Notes) Notes {
	for _, text := range []struct{ of, by *string }{
		{&n.Label, &others.Label}, {&n.Position, &others.Position}, {&n.Oil, &others.Oil}, {&n.Part, &others.Part}, {&n.Started, &others.Started},
	} {
		if *text.by != "" {
			*text.of = *text.by
		}
	}
	if others.Temperature != nil {
		n.Temperature = others.Temperature
	}
	return n
}

// local is a wall clock's date and time without a zone.
const local = "2006-01-02T15:04:05"

// Moment reads a date and time, zoned where it says its zone; else it is the
// reading of a clock on the wall, given as if of UTC.
func Moment(text string) (t time.Time, zoned bool, err error) {
	if t, err = time.Parse(time.RFC3339, text); err == nil {
		return t, true, nil
	}
	for _, layout := range []string{local, "2006-01-02 15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err = time.Parse(layout, text); err == nil {
			return t, false, nil
		}
	}
	return t, false, fmt.Errorf("%q: write a date and time as 2031-05-04T21:30:05, or with its zone as 2031-05-04T21:30:05+02:00", text)
}

// Positions are those in which the trade tries a movement, in its order.
var Positions = []string{"dial up", "dial down", "pendant up", "pendant right", "pendant down", "pendant left", "crown up", "crown right", "crown down", "crown left"}

// short are the positions as they are written in short: initials.
func short(position string) string {
	a, b, _ := strings.Cut(position, " ")
	return a[:1] + b[:1]
}

// Position returns the name of a position of the trade that is written in short
// or with other spaces and capitals, and any other text as it is.
func Position(text string) string {
	plain := strings.ToLower(strings.Join(strings.FieldsFunc(text, func(r rune) bool { return unicode.IsSpace(r) || r == '-' || r == '_' }), " "))
	if i := slices.IndexFunc(Positions, func(p string) bool { return plain == p || plain == short(p) }); i >= 0 {
		return Positions[i]
	}
	return text
}
