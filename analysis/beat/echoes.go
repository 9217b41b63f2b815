package beat

// echoes are the autocorrelations of the onsets of one channel, in each band,
// over some equal pieces of a stretch, one after the other. They cost little,
// and tell where a search for a beat is in vain.
type echoes struct {
	pieces [][][]float32 // by piece, band and lag, a lag of two blocks each
}

// echo is the least autocorrelation, averaged over a stretch, that promises
// something: below what a search takes for a candidate.
const echo = 0.045

// add takes in a piece, and forgets one that is no longer of the stretch.
func (e *echoes) add(bands []Band, perSecond float64) {
	piece := make([][]float32, len(bands))
	parallel(len(bands), func(i int) {
		s := make([]float32, len(bands[i].Strength))
		for j, v := range bands[i].Strength {
			s[j] = min(v, loudEnough)
		}
		r := autocorrelation(pool(dilate(s)), int(longestPeriod*perSecond/2))
		piece[i] = make([]float32, len(r))
		for j, v := range r {
			piece[i][j] = float32(v)
		}
	})
	e.pieces = append(e.pieces, piece)
	if len(e.pieces) > pieces {
		e.pieces = e.pieces[1:]
	}
}

// without tells for each band whether its onsets do not repeat at any lag.
func (e *echoes) without(perSecond float64) []bool {
	out := make([]bool, len(e.pieces[0]))
	for band := range out {
		most := float32(0)
		for lag := int(shortestPeriod / 4 * perSecond); lag < len(e.pieces[0][band]); lag++ {
			var sum float32
			for _, p := range e.pieces {
				sum += p[band][lag]
			}
			most = max(most, sum)
		}
		out[band] = most < echo*float32(len(e.pieces))
	}
	return out
}
