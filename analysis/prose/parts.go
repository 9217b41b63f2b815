package prose

import (
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"rundown/analysis"
	"rundown/analysis/beat"
)

// mostMissing is how many parts may be missing between two for their names to
// be taken for numbers at all, and not for times.
const mostMissing = 50

// numbered is the name of a part, about its last number.
type numbered struct {
	before, after string
	number        int64
}

// partNumber takes the name of a recording apart; false where it has no number.
func partNumber(path string) (numbered, bool) {
	stem := filepath.Base(path)
	if ext := filepath.Ext(stem); strings.Trim(ext, ".0123456789") != "" {
		stem = strings.TrimSuffix(stem, ext)
	}
	head := strings.TrimRightFunc(stem, func(r rune) bool { return r < '0' || r > '9' })
	before := strings.TrimRight(head, "0123456789")
	number, err := strconv.ParseInt(head[len(before):], 10, 64)
	return numbered{before, stem[len(head):], number}, err == nil
}

// PartNumbers says where the numbers in the names of consecutive parts speak
// for one that is missing, or for another order, in whole sentences. Names that
// are not numbered one by one, as by the time of day, say nothing.
func PartNumbers(paths []string) []string {
	var steps []int64
	for i := 1; i < len(paths); i++ {
		a, ok := partNumber(paths[i-1])
		b, ok2 := partNumber(paths[i])
		if !ok || !ok2 || a.before != b.before || a.after != b.after || b.number-a.number > mostMissing || b.number-a.number < -mostMissing {
			return nil
		}
		steps = append(steps, b.number-a.number)
	}
	var problems []string
	for i, step := range steps {
		first, second := filepath.Base(paths[i]), filepath.Base(paths[i+1])
		switch {
		case step == 2:
			problems = append(problems, fmt.Sprintf("By their numbers, a part is missing between %s and %s: what happened in it is not known, and where they meet the beats may seem to jump.", first, second))
		case step > 2:
			problems = append(problems, fmt.Sprintf("By their numbers, %d parts are missing between %s and %s: what happened in them is not known, and where they meet the beats may seem to jump.", step-1, first, second))
		case step < 1:
			problems = append(problems, fmt.Sprintf("By their numbers, %s does not come after %s: if so, name the parts in the order of their recording.", second, first))
		}
	}
	return problems
}

// Jumps says where the beats jump at a joint, in whole sentences: then
// something is missing rather than that the movement hesitated there.
func Jumps(list []analysis.Joint, s *analysis.Summary, events []beat.Event) []string {
	var problems []string
	for _, j := range list {
		at := j.At * float64(s.Recording.Duration)
		for _, ev := range events {
			near := ev.Start-float64(s.Beat.Period) <= at && at <= ev.End+float64(s.Beat.Period)
			if near && (ev.Kind == beat.Late || ev.Kind == beat.Early) {
				problems = append(problems, fmt.Sprintf("Where %s ends and %s begins, the beats jump by %s: it is more likely that sound is missing between the two than that the movement hesitated there.",
					j.Before, j.After, SignedWithError(analysis.Number(1e3*ev.Shift), analysis.None(), "ms")))
				break
			}
		}
	}
	return problems
}
