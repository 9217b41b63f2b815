package chart

import "rundown/analysis/rate"

// rates is the rate as a quantity. A second a day is the narrowest axis: less
// than that is lost in the clock of most recorders.
var rates = quantity{
	title: "Rate against elapsed time", label: "rate (s/day), gaining is +", unit: "s/day",
	none: "no rate was measured", signed: true, least: 1, focus: true,
	pick: func(w rate.Window) rate.Value { return w.Rate },
}

// Rate draws the drift chart: rate in seconds a day against elapsed time with
// its standard error, the smoothed curve, the stable band with its width,
// length and mean, stops, and under it one lane for each kind of event that
// occurred, with the number of them.
func Rate(r Run) *Figure {
	smooth := r.smoothed()
	f, p := drift(r, rates, smooth)
	b := r.band()
	if b == nil && r.heard() {
		f.note("There is no stable band: the run is too short, or nowhere steady enough.")
	}
	if b != nil {
		p.brackets = append(p.brackets, bracket{span{b.Start, b.End}, bandText(b), ink})
		p.plot.Add(edges{span{b.Start, b.End}, bandEdges(b, smooth)})
	}
	if r.Note != "" {
		f.note(r.Note)
	}
	if l := lanes(r.Events, r.time()); l != nil {
		l.bottom = p.bottom
		p.bottom.label = ""
		p.bottom.ticks = unlabelled(p.bottom.ticks)
		f.rows = append(f.rows, []*panel{l})
		f.height += l.height
	}
	return f
}

// bandText says how wide the band is, what its mean is and how long it lasts.
func bandText(b *rate.Band) string {
	text := "stable band: "
	if finite(b.Spread) {
		text += plain(b.Spread, 1) + " s/day wide, "
	}
	if finite(b.Mean.X) {
		text += "mean " + withError(b.Mean) + " s/day, "
	}
	return text + "lasts " + lasting(b.End-b.Start)
}

// bandEdges is the range of the smoothed rate within the band; without a
// smoothed rate, the band's spread about its mean.
func bandEdges(b *rate.Band, smooth series) span {
	edge, found := span{}, false
	for _, stretch := range smooth {
		for _, p := range stretch {
			if p.t < b.Start || p.t > b.End {
				continue
			}
			if !found {
				edge, found = span{p.x, p.x}, true
			}
			edge = edge.including(p.x)
		}
	}
	if !found {
		edge = span{b.Mean.X - b.Spread/2, b.Mean.X + b.Spread/2}
	}
	return edge
}
