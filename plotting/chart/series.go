package chart

import (
	"cmp"
	"math"
	"slices"

	"rundown/analysis/beat"
	"rundown/analysis/rate"
)

// point is a figure with its standard error at a time; all three are finite.
type point struct{ t, x, se float64 }

// series is a curve in its unbroken stretches, none of them empty.
type series [][]point

// figures is the series of one figure of the windows, each at the middle of
// its window, or of the part of it in which the movement ran.
func figures(ws []rate.Window, pick func(rate.Window) rate.Value, events []beat.Event) series {
	stops := of(events, beat.Stop)
	ps := make([]point, len(ws))
	for i, w := range ws {
		v := pick(w)
		ps[i] = point{running(w, stops), v.X, v.SE}
	}
	return split(ps, stops)
}

// running is the middle of the longest part of a window that no stop takes up;
// of all of it where there is no such part.
func running(w rate.Window, stops []beat.Event) float64 {
	longest := span{w.Start, w.Start}
	from := w.Start
	keep := func(to float64) {
		if to-from > longest.width() {
			longest = span{from, to}
		}
	}
	after, _ := slices.BinarySearchFunc(stops, w.Start, func(e beat.Event, t float64) int { return cmp.Compare(e.End, t) })
	for _, e := range stops[after:] {
		if e.Start >= w.End {
			break
		}
		keep(e.Start)
		from = max(from, e.End)
	}
	keep(w.End)
	if longest.width() == 0 {
		longest.hi = w.End
	}
	return (longest.lo + longest.hi) / 2
}

// split breaks points in order of time into stretches: where there is no
// figure, and where a stop comes between two. A standard error that is not
// known becomes 0, which draws nothing.
func split(ps []point, stops []beat.Event) series {
	var s series
	var stretch []point
	end := func() {
		if len(stretch) > 0 {
			s = append(s, stretch)
		}
		stretch = nil
	}
	for _, p := range ps {
		if !finite(p.x) || !finite(p.t) {
			end()
			continue
		}
		if !finite(p.se) {
			p.se = 0
		}
		if n := len(stretch); n > 0 {
			for len(stops) > 0 && stops[0].End <= stretch[n-1].t {
				stops = stops[1:]
			}
			if len(stops) > 0 && stops[0].Start < p.t {
				end()
			}
		}
		stretch = append(stretch, p)
	}
	end()
	return s
}

// len is the number of points.
func (s series) len() int {
	n := 0
	for _, stretch := range s {
		n += len(stretch)
	}
	return n
}

// values lists the figures and their standard errors.
func (s series) values() (xs, ses []float64) {
	for _, stretch := range s {
		for _, p := range stretch {
			xs, ses = append(xs, p.x), append(ses, p.se)
		}
	}
	return xs, ses
}

// beyond lists the points above and below a range, in order of time.
func (s series) beyond(r span) (above, below []point) {
	for _, stretch := range s {
		for _, p := range stretch {
			switch {
			case p.x > r.hi:
				above = append(above, p)
			case p.x < r.lo:
				below = append(below, p)
			}
		}
	}
	return above, below
}

// during keeps the points within a band; none where that is nil.
func (s series) during(band *rate.Band) series {
	var kept series
	for _, stretch := range s {
		for _, p := range stretch {
			if band != nil && p.t >= band.Start && p.t <= band.End {
				kept = append(kept, []point{p})
			}
		}
	}
	return kept
}

// column is what a stretch of curve does within one column of the picture.
type column struct {
	first, last int // half-open range of points
	least, most int // the points with the smallest and the largest figure
	mean        point
}

// columns sorts the points of a stretch into columns of a width in seconds,
// leaving out empty columns. The mean's standard error is the root mean square
// of the points': what one of them is uncertain by.
func columns(ps []point, width float64) []column {
	var cs []column
	for i := 0; i < len(ps); {
		c := column{first: i, least: i, most: i}
		edge := (math.Floor(ps[i].t/width) + 1) * width
		for ; i == c.first || i < len(ps) && ps[i].t < edge; i++ {
			p := ps[i]
			if p.x < ps[c.least].x {
				c.least = i
			}
			if p.x > ps[c.most].x {
				c.most = i
			}
			c.mean.t += p.t
			c.mean.x += p.x
			c.mean.se += p.se * p.se
		}
		c.last = i
		n := float64(c.last - c.first)
		c.mean = point{c.mean.t / n, c.mean.x / n, math.Sqrt(c.mean.se / n)}
		cs = append(cs, c)
	}
	return cs
}

// thin keeps of each column the points with the smallest and the largest
// figure, in order of time: it draws the same picture with fewer points.
func thin(ps []point, width float64) []point {
	var kept []point
	for _, c := range columns(ps, width) {
		a, b := min(c.least, c.most), max(c.least, c.most)
		kept = append(kept, ps[a])
		if b != a {
			kept = append(kept, ps[b])
		}
	}
	return kept
}

// means replaces the points of each column by their mean.
func means(ps []point, width float64) []point {
	var ms []point
	for _, c := range columns(ps, width) {
		ms = append(ms, c.mean)
	}
	return ms
}
