package synth

import (
	"bytes"
	"errors"
	"fmt"
	"io"

	"github.com/BurntSushi/toml"
)

// ReadRecipe reads a recording as TOML. Keys are the names beside the fields;
// one that is left out keeps its zero value, and one that is not known is an
// error.
func ReadRecipe(r io.Reader) (Recording, error) {
	var rec Recording
	about, err := toml.NewDecoder(r).Decode(&rec)
	if err != nil {
		return rec, err
	}
	if unknown := about.Undecoded(); len(unknown) > 0 {
		return rec, fmt.Errorf("there is no key %s: remove it", unknown[0])
	}
	return rec, rec.Check()
}

// Recipe returns every field by its key, those left out with their customary
// values, for writing in any format.
func (r Recording) Recipe() (map[string]any, error) {
	if r.Room.Samples != nil {
		return nil, errors.New("a room made of samples has no recipe")
	}
	var text bytes.Buffer
	if err := toml.NewEncoder(&text).Encode(r.withDefaults()); err != nil {
		return nil, err
	}
	recipe := make(map[string]any)
	_, err := toml.NewDecoder(&text).Decode(&recipe)
	return recipe, err
}
