package live

import (
	"context"
	"slices"

	"rundown/analysis"
	"rundown/analysis/fitness"
	"rundown/dsp/wavio"
)

// How much of a recording is listened to for what may be wrong with it, and when:
// after so many seconds at first, and then every so often, while something is wrong
// and while nothing is.
const (
	glance       = 30
	whileUnfit   = 60
	whileFit     = 300
	noBeatBefore = 60 // s: until then a beat may be found yet
)

// Inspector listens to the latest of a recording now and then.
type Inspector struct {
	opt  analysis.Options
	due  float64 // s into the recording
	told []fitness.Reason
	dead []int
}

// NewInspector returns one with the settings of the analysis.
func NewInspector(opt analysis.Options) *Inspector { return &Inspector{opt: opt, due: glance} }

// Due reports whether it is time to look at a recording of so many seconds.
func (i *Inspector) Due(seconds float64) bool { return seconds >= i.due }

// Inspect listens to the last seconds of a recording as far as it goes, and returns
// what is wrong with it, and which channels are silent, that it did not return
// before.
func (i *Inspector) Inspect(ctx context.Context, g *wavio.Growing) (news []fitness.Reason, silent []int, err error) {
	f := g.Format()
	frames := g.Frames()
	src, err := g.Follow(max(0, frames-int64(glance*f.SampleRate)))
	if err != nil {
		return nil, nil, err
	}
	defer src.Close()
	r, err := fitness.Assess(ctx, src, glance, i.opt)
	if err != nil {
		return nil, nil, err
	}
	seconds := float64(frames) / float64(f.SampleRate)
	i.due = seconds + whileFit
	if !r.Fit() {
		i.due = seconds + whileUnfit
		if seconds < noBeatBefore {
			i.due = noBeatBefore
		}
	}
	for _, reason := range slices.Concat(r.Reasons, r.Advice) {
		if slices.Contains(i.told, reason) || reason == fitness.NoBeat && seconds < noBeatBefore {
			continue
		}
		i.told, news = append(i.told, reason), append(news, reason)
	}
	for _, c := range r.Silent {
		if !slices.Contains(i.dead, c) {
			i.dead, silent = append(i.dead, c), append(silent, c)
		}
	}
	return news, silent, nil
}
