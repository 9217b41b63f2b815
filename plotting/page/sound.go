package page

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/export"
)

// sounds are the clips of a run: by event, where the page finds its sound.
type sounds map[happening]template.URL

// happening tells events apart.
type happening struct {
	kind  beat.Kind
	beat  int64
	start float64
}

// of returns the sound of an event, "" where there is none.
func (s sounds) of(ev beat.Event) template.URL { return s[happening{ev.Kind, ev.Beat, ev.Start}] }

func (s sounds) set(ev beat.Event, url template.URL) { s[happening{ev.Kind, ev.Beat, ev.Start}] = url }

// newSounds refers to the files beside the page.
func newSounds(r Run) sounds {
	s := sounds{}
	for i, c := range r.Clips {
		if i < len(r.Summary.Clips) {
			s.set(c.Event, template.URL(r.Summary.Clips[i].File))
		}
	}
	return s
}

// embed puts the most telling clips into the page itself, as far as they take
// no more than room bytes.
func (s sounds) embed(r Run, room int) {
	clips := slices.Clone(r.Clips)
	slices.SortStableFunc(clips, func(a, b analysis.Clip) int { return analysis.Telling(a.Event, b.Event) })
	for _, c := range clips {
		var wav bytes.Buffer
		if export.Clip(&wav, c, r.Recording.SampleRate) != nil {
			continue // a rate that no WAV file can have: the page does without
		}
		url := dataURL("audio/wav", wav.Bytes())
		if room -= len(template.HTMLEscapeString(string(url))); room < 0 {
			return
		}
		s.set(c.Event, url)
	}
}

// dataURL is a file as an address that holds all of it.
func dataURL(kind string, content []byte) template.URL {
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(content))
}
