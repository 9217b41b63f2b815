package prose

import (
	"fmt"
	"path/filepath"

	"rundown/analysis"
	"rundown/dsp/wavio"
)

// Name is what a recording is called: its file's name, without the way there,
// which is nobody else's business.
func Name(s *analysis.Summary) string {
	paths := s.Recording.Paths
	if len(paths) == 0 || paths[0] == "-" {
		return "standard input"
	}
	name := wavio.OneLine(filepath.Base(paths[0]))
	if more := len(paths) - 1; more > 0 {
		name += " and " + Count(more, "more part", "more parts")
	}
	return name
}

// Sound says in what form the sound was recorded.
func Sound(s *analysis.Summary) string {
	r := s.Recording
	text := fmt.Sprintf("%g kHz, %d bit", float64(r.SampleRate)/1000, r.BitsPerSample)
	if r.Channels > 1 && r.Channel > 0 {
		text += fmt.Sprintf(", channel %d of %d", r.Channel, r.Channels)
	}
	return text
}
