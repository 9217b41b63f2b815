package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"

	"rundown/analysis/beat"
	"rundown/analysis/recorder"
)

// change is a step of a level by so many dB at a time in seconds.
type change struct{ at, by float64 }

// changes says what of the recording's level, offset and hum changed by more than
// 6 dB and when, in whole sentences.
func (s *story) changes(report beat.Report) []string {
	at, levels := sounding(report)
	timed := func(in []recorder.Change) []change {
		out := make([]change, len(in))
		for i, c := range in {
			out[i] = change{at[c.At], c.By}
		}
		return out
	}
	gains, beats := s.gains(timed(recorder.Rooms(levels)))
	hums, hz := recorder.Hums(levels)
	hum := fmt.Sprintf("The hum of the mains, %.0f Hz and its overtones,", hz)
	return slices.Concat(
		worded("The recording level", gains, ", of beats and room alike: leave it alone during a run."),
		worded("The loudness of the beats", beats, ", and not that of the room: the microphone may have been moved."),
		worded(hum, except(timed(hums), gains), ": keep away from mains wiring."),
		worded("The offset of the recording", except(timed(recorder.Offsets(levels)), gains), ": it is the recorder's."),
	)
}

// sounding returns the levels of those seconds in which the recorder wrote no zeros,
// and when each begins.
func sounding(report beat.Report) (at []float64, levels []recorder.Level) {
	next := 0
	for i, l := range report.Levels {
		from := report.LevelsFrom + float64(i)*report.LevelSeconds
		for next < len(report.Zeros) && report.Zeros[next].End <= from {
			next++
		}
		if next == len(report.Zeros) || report.Zeros[next].Start >= from+report.LevelSeconds {
			at, levels = append(at, from), append(levels, l)
		}
	}
	return at, levels
}

// worded says when something rose and fell, one sentence; none where it did not.
func worded(what string, in []change, advice string) []string {
	const most = 3
	if len(in) == 0 {
		return nil
	}
	text := what
	for i, c := range in[:min(len(in), most)] {
		way := "rose"
		if c.by < 0 {
			way = "fell"
		}
		if i > 0 {
			text += ","
		}
		text += fmt.Sprintf(" %s by %.0f dB at %s", way, math.Abs(c.by), moment(c.at))
	}
	if more := len(in) - most; more > 0 {
		text += fmt.Sprintf(", and changed %d times more", more)
	}
	return []string{text + advice}
}

// moment is a time since the start of the recording, to the second.
func moment(seconds float64) string {
	s := int64(math.Round(seconds))
	switch {
	case s < 60:
		return fmt.Sprintf("%d s", s)
	case s < 3600:
		return fmt.Sprintf("%d min %02d s", s/60, s%60)
	}
	return fmt.Sprintf("%d h %02d min %02d s", s/3600, s/60%60, s%60)
}

// together is within how many seconds two levels change together.
const together = 5

// except leaves out what changes together with others.
func except(in, others []change) []change {
	return slices.DeleteFunc(in, func(c change) bool {
		return slices.ContainsFunc(others, func(o change) bool { return math.Abs(c.at-o.at) <= together })
	})
}

// gains tells the steps of the beats' level that the room made as well from those
// that it did not. rooms are the room's.
func (s *story) gains(rooms []change) (gains, beats []change) {
	at, level := s.levels()
	for _, c := range recorder.Changes(level, nil) {
		before, after := at[c.At-1], at[c.At]
		i := slices.IndexFunc(rooms, func(r change) bool {
			return r.at > before-together && r.at < after+together && r.by*c.By > 0 && math.Abs(r.by) > math.Abs(c.By)/2
		})
		if i < 0 {
			beats = append(beats, change{(before + after) / 2, c.By})
		} else {
			gains = append(gains, change{rooms[i].at, c.By})
		}
	}
	told := len(gains)
	for _, r := range rooms { // with which beats were heard no more, or not for a while
		i := sort.SearchFloat64s(at, r.at+together) - 1
		silenced := i >= 0 && r.at-at[i] <= together && (i == len(at)-1 || at[i+1]-at[i] > 2*together)
		if r.by < 0 && silenced && !slices.ContainsFunc(gains[:told], func(g change) bool { return g.at == r.at }) {
			gains = append(gains, r)
		}
	}
	slices.SortFunc(gains, func(a, b change) int { return cmp.Compare(a.at, b.at) })
	return gains, beats
}

// levels returns the mean level, in dB, of the beats heard in each second that holds
// some, and when that was. The louder side counts like the other one.
func (s *story) levels() (at, level []float64) {
	var sum, n [2]float64
	for _, b := range s.beats {
		if b.Heard {
			sum[b.Side] += b.Level
			n[b.Side]++
		}
	}
	apart := 0.0
	if n[0] > 0 && n[1] > 0 {
		apart = sum[1]/n[1] - sum[0]/n[0]
	}
	count := 0.0
	for _, b := range s.beats {
		if !b.Heard {
			continue
		}
		if k := len(at); k == 0 || b.Time-at[k-1] >= 1 {
			at, level, count = append(at, b.Time), append(level, 0), 0
		}
		count++
		l := &level[len(level)-1]
		*l += (b.Level - apart*float64(b.Side) - *l) / count
	}
	return at, level
}
