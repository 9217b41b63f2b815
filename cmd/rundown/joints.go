package main

import (
	"fmt"
	"path/filepath"

	"rundown/analysis"
	"rundown/analysis/beat"
	"rundown/analysis/prose"
	"rundown/dsp/wavio"
)

// joint is where one part of a run ends and the next begins.
type joint struct {
	before, after string  // names of the parts
	at            float64 // the part of all frames that lies before it
}

// jointsOf lists the joints of parts; none where the length of one is not known
// before it is read.
func jointsOf(paths []string) []joint {
	if len(paths) < 2 {
		return nil
	}
	var list []joint
	total := int64(0)
	for i, path := range paths {
		f, err := wavio.Open(path)
		if err != nil {
			return nil
		}
		frames := f.Format().Frames
		f.Close()
		if frames < 0 {
			return nil
		}
		if i > 0 {
			list = append(list, joint{filepath.Base(paths[i-1]), filepath.Base(path), float64(total)})
		}
		total += frames
	}
	for i := range list {
		list[i].at /= float64(total)
	}
	return list
}

// jointProblems says where the beats jump at a joint, in whole sentences: then
// something is missing rather than that the movement hesitated there.
func jointProblems(list []joint, s *analysis.Summary, events []beat.Event) []string {
	var problems []string
	for _, j := range list {
		at := j.at * float64(s.Recording.Duration)
		for _, ev := range events {
			near := ev.Start-float64(s.Beat.Period) <= at && at <= ev.End+float64(s.Beat.Period)
			if near && (ev.Kind == beat.Late || ev.Kind == beat.Early) {
				problems = append(problems, fmt.Sprintf("Where %s ends and %s begins, the beats jump by %s: it is more likely that sound is missing between the two than that the movement hesitated there.",
					j.before, j.after, prose.SignedWithError(analysis.Number(1e3*ev.Shift), analysis.None(), "ms")))
				break
			}
		}
	}
	return problems
}
