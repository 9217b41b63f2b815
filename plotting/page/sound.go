package page

import (
	"bytes"
	"encoding/base64"
	"html/template"
	"slices"
	"strings"

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
		if export.Clip(&wav, around(c, float64(r.Recording.SampleRate)), r.Recording.SampleRate) != nil {
			continue // a rate that no WAV file can have: the page does without
		}
		url := dataURL("audio/wav", wav.Bytes())
		const escaped = "&#43;" // what the template makes of a plus
		if room -= len(url) + (len(escaped)-1)*strings.Count(string(url), "+"); room < 0 {
			return
		}
		s.set(c.Event, url)
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

// dataURL is a file as an address that holds all of it.
func dataURL(kind string, content []byte) template.URL {
	return template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(content))
}
