package page

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"net/url"
	"slices"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/export"
)

// sounds are the clips of a run: by event, where the page finds its sound.
type sounds map[happening]template.HTMLAttr

// happening tells events apart.
type happening struct {
	kind  beat.Kind
	beat  int64
	start float64
}

// of returns the sound of an event, "" where there is none.
func (s sounds) of(ev beat.Event) template.HTMLAttr { return s[happening{ev.Kind, ev.Beat, ev.Start}] }

func (s sounds) set(ev beat.Event, source template.HTMLAttr) {
	s[happening{ev.Kind, ev.Beat, ev.Start}] = source
}

// newSounds refers to the files beside the page.
func newSounds(r Run) sounds {
	s := sounds{}
	for i, c := range r.Clips {
		if i < len(r.Summary.Clips) {
			s.set(c.Event, source(r.Summary.Clips[i].File))
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
		if export.Clip(&wav, around(c, float64(r.Recording.SampleRate)), r.Recording.SampleRate) != nil {
			continue // a rate that no WAV file can have: the page does without
		}
		sound := embedded("audio/wav", wav.Bytes())
		if room -= len(sound); room < 0 {
			return
		}
		s.set(c.Event, sound)
	}
}

// Of a clip in the page itself, so many seconds are kept before and after the
// beginning of its event: the more events can be heard.
const keptBefore, keptAfter = 0.8, 1.2

// around cuts a clip close about its event.
func around(c analysis.Clip, sampleRate float64) analysis.Clip {
	frame := func(seconds float64) int {
		return min(max(int((c.Event.Start+seconds-c.Start)*sampleRate), 0), len(c.Samples))
	}
	first, last := frame(-keptBefore), frame(keptAfter)
	if first == last {
		return c
	}
	c.Start += float64(first) / sampleRate
	c.Samples = c.Samples[first:last]
	return c
}

// source refers to a file beside the page.
func source(file string) template.HTMLAttr {
	address := url.URL{Path: file}
	return template.HTMLAttr(`src="` + template.HTMLEscapeString(address.String()) + `"`)
}

// embedded is a file as an address that holds all of it. It is an attribute as
// a whole: the template would look for what to escape in each of its bytes, and
// in base64 there is nothing.
func embedded(kind string, content []byte) template.HTMLAttr {
	return template.HTMLAttr(`src="data:` + kind + ";base64," + base64.StdEncoding.EncodeToString(content) + `"`)
}
