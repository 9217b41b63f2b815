package train

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode"

	"github.com/BurntSushi/toml"
)

// Bounds of a train file, in bytes: a real one has a few hundred, and lines of
// twenty. The decoder's time grows with the cube of the depth to which keys and
// tables are nested; short lines keep that shallow.
const (
	maxSize = 16 << 10
	maxLine = 400
)

// Load reads the train file at path. The error, of one line, names the file,
// and where the content is at fault the arbor and the remedy.
func Load(path string) (*Train, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxSize+1))
	if err != nil {
		return nil, err
	}
	return Parse(path, data)
}

// Parse reads the content of a train file; name is the file's name, for errors.
func Parse(name string, data []byte) (*Train, error) {
	t, err := decode(data)
	if err == nil {
		err = t.validate()
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return t, nil
}

func decode(data []byte) (*Train, error) {
	if len(data) > maxSize {
		return nil, fmt.Errorf("larger than %d KiB: this is no train file", maxSize>>10)
	}
	for i, line := range bytes.Split(data, []byte("\n")) {
		if len(line) > maxLine {
			return nil, fmt.Errorf("line %d is longer than %d bytes: shorten it", i+1, maxLine)
		}
	}
	var file struct {
		Arbors []Arbor `toml:"arbor"`
	}
	meta, err := toml.Decode(string(data), &file)
	if err != nil {
		return nil, errors.New(oneLine(err.Error()))
	}
	if extra := meta.Undecoded(); len(extra) > 0 {
		return nil, fmt.Errorf("unknown key %s: remove it; an [[arbor]] has name, pinion, wheel, escape and turns_per_hour", short(extra[0].String()))
	}
	return &Train{Arbors: file.Arbors}, nil
}

// oneLine turns a decoder's message into one line of readable length that
// starts with the place, not with the name of the format.
func oneLine(s string) string {
	return short(strings.TrimPrefix(strings.Join(strings.Fields(s), " "), "toml: "))
}

// short cuts s to a length that fits a line, and replaces what can't be printed.
func short(s string) string {
	const longest = 160
	r := []rune(s)
	if len(r) > longest {
		r = append(r[:longest], '…')
	}
	for i := range r {
		if !unicode.IsPrint(r[i]) {
			r[i] = unicode.ReplacementChar
		}
	}
	return string(r)
}
