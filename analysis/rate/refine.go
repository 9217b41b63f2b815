package rate

import (
	"math"
	"slices"

	"rundown/analysis/beat"
)

// refine iterates reweighted least squares: first with a scatter that bad
// onsets cannot spoil, then with an efficient one. Where the curve leaves beats out, it
// may have gone past them because the line before it did: of that curve and one that
// began with all beats, the likelier one holds.
func (f *fitter) refine() bool {
	all := f.active
	if !f.stepwise() {
		return false
	}
	if cost := f.cost(); all[curve] && f.number() < float64(len(f.points)) && (!f.atOnce() || f.cost() > cost) {
		if f.start(); !f.stepwise() {
			return false
		}
	}
	return f.straighten() && f.steepen()
}

// stepwise lets what bends join only when the line has settled, lest it bend towards
// bad onsets that come together.
func (f *fitter) stepwise() bool {
	if all := f.active; all[curve] {
		f.active = [columns]bool{slope: true, side: all[side]}
		ok := f.converge(f.medianScale, 1)
		f.active[curve] = true
		ok = ok && f.converge(f.medianScale, 1)
		if f.active = all; !ok {
			return false
		}
	}
	return f.converge(f.medianScale, 0.3) && f.converge(f.efficientScale, 0.02)
}

// atOnce begins with all beats and columns.
func (f *fitter) atOnce() bool {
	for i := range f.points {
		f.points[i].w = 1
	}
	return f.step() && f.converge(f.medianScale, 0.3) && f.converge(f.efficientScale, 0.02)
}

// cost returns minus the logarithm of the likelihood of a fit whose residuals have the
// distribution for which the bisquare is made, up to a constant.
func (f *fitter) cost() float64 {
	var sum float64
	for i := range f.points {
		p := &f.points[i]
		u := math.Min(1, math.Abs(p.r/(rejection*f.scale[p.side])))
		v := 1 - u*u
		sum += math.Log(f.scale[p.side]) + rejection*rejection/6.*(1-v*v*v)
	}
	return sum
}

// straighten drops what bends no more than by chance.
func (f *fitter) straighten() bool {
	dropped := false
	for _, k := range []int{cube, apart, curve} {
		if k == curve && (len(f.segments) == 1 || f.active[cube]) {
			continue // in one piece it costs nothing
		}
		if f.active[k] && math.Abs(f.beta[k]) < plainBend*math.Sqrt(f.unitVariance()*f.inverse.At(k, k)) {
			f.active[k], f.beta[k], dropped = false, 0, true
		}
	}
	if dropped {
		f.shape()
		return f.converge(f.efficientScale, 0.02)
	}
	return true
}

// shape computes the columns of all rows that bend.
func (f *fitter) shape() {
	bend := func(z *vector) {
		*z = vector{slope: z[slope], side: z[side]}
		f.bend(z)
	}
	for i := range f.points {
		bend(&f.points[i].z)
	}
	for i := range f.rows {
		bend(&f.rows[i])
	}
}

// steepen takes in what bends more steeply than a cubic, one column after the other, as
// long as that makes all beats plainly more probable: those that the cubic left out too.
func (f *fitter) steepen() bool {
	if !f.active[cube] || f.freedom() < steepFreedom {
		return true
	}
	for _, k := range []int{quartic, quintic, fleeing} {
		if k == fleeing && !f.active[apart] || k == quintic && !f.active[quartic] {
			continue
		}
		before, cost := slices.Clone(f.points), f.cost()
		scale := f.scale
		f.active[k] = true
		f.shape()
		if f.atOnce() && f.cost() < cost-plainBend*plainBend/2 {
			continue
		}
		copy(f.points, before)
		f.active[k], f.beta[k], f.scale = false, 0, scale
		f.shape()
		if !f.step() {
			return false
		}
	}
	return true
}

// plainBend is by how many of its standard errors a bend is kept: one that is not
// plain would cost more than it explains.
const plainBend = 3

// converge iterates until no coefficient moves by more than near of its
// standard error.
func (f *fitter) converge(rescale func(), near float64) bool {
	for range 8 {
		before := f.beta
		rescale()
		if !f.iterate() {
			return false
		}
		far := near * f.unit() / math.Sqrt(float64(len(f.points)))
		settled := true
		for k := range before {
			settled = settled && math.Abs(f.beta[k]-before[k]) < far
		}
		if settled {
			return true
		}
	}
	return true
}

// iterate weighs the points by their residuals and fits them anew.
func (f *fitter) iterate() bool {
	for i := range f.points {
		p := &f.points[i]
		p.w = 0
		if u := p.r / (rejection * f.scale[p.side]); math.Abs(u) < 1 {
			p.w = (1 - u*u) * (1 - u*u)
		}
	}
	return f.step()
}

// step fits the points anew, by the weights that they have.
func (f *fitter) step() bool {
	beta, ok := f.solve()
	if !ok {
		return false
	}
	f.beta = beta
	for i := range f.segments {
		s := &f.segments[i]
		if s.sw > 0 {
			s.a = (s.sy - dot(&s.sz, &f.beta)) / s.sw
		}
	}
	f.residuals()
	return true
}

// medianScale sets the scatter of each side from the median absolute residual.
func (f *fitter) medianScale() {
	// Residuals are smaller than the scatter, their median more so where there
	// are few; found by simulation for coverage with 8 to 16 beats.
	n := float64(len(f.points))
	free := n - f.parameters()
	shrink := math.Sqrt(n/free) * (1 + 5/free)
	of := func(sides ...beat.Side) float64 {
		return 1.4826 * shrink * f.median(f.points, func(p *point) (float64, bool) {
			return math.Abs(p.r), len(sides) == 0 || p.side == sides[0]
		})
	}
	if f.sided() {
		f.scale = [2]float64{of(beat.Tick), of(beat.Tock)}
	} else {
		s := of()
		f.scale = [2]float64{s, s}
	}
	f.guardScale()
}

// efficientScale sets the scatter of each side from all residuals not
// rejected. The sides get scatters of their own only where these differ beyond
// doubt, since weights that follow chance cost precision.
func (f *fitter) efficientScale() {
	all, nAll := f.scatter(func(beat.Side) bool { return true })
	next := [2]float64{all, all}
	if f.sided() {
		tick, n := f.scatter(func(s beat.Side) bool { return s == beat.Tick })
		tock := 0.
		tock, _ = f.scatter(func(s beat.Side) bool { return s == beat.Tock })
		doubt := 3 * math.Sqrt(1/(2*n)+1/(2*(nAll-n)))
		if math.Abs(math.Log(tick/tock)) > doubt {
			next = [2]float64{tick, tock}
		}
	}
	f.scale = next
	f.guardScale()
}

// guardScale keeps the scatter above rounding, for beats without any.
func (f *fitter) guardScale() {
	const least = 1e-11 // s
	for i, s := range f.scale {
		if !(s > least) {
			f.scale[i] = least
		}
	}
}

// sided reports that each side has enough beats for a scatter of its own.
func (f *fitter) sided() bool {
	n := 0
	for _, p := range f.points {
		n += int(p.side)
	}
	return min(n, len(f.points)-n) >= sideBeats
}

// scatter returns the standard deviation of the beats of the sides wanted, in
// seconds, and their number.
func (f *fitter) scatter(want func(beat.Side) bool) (sigma, n float64) {
	var squares, slopes float64
	for i := range f.points {
		p := &f.points[i]
		if p.w == 0 || !want(p.side) {
			continue
		}
		n++
		psi, d := bisquare(p.r / (rejection * f.scale[p.side]))
		psi *= rejection * f.scale[p.side]
		squares += psi * psi
		slopes += d
	}
	if slopes <= 0 {
		return 0, n
	}
	free := f.freedom()
	return math.Sqrt(efficiency*f.number()/free*squares*n) / slopes, n
}

// bisquare returns Tukey's ψ and its derivative at u, the residual over the
// point of rejection.
func bisquare(u float64) (psi, derivative float64) {
	v := 1 - u*u
	if v <= 0 {
		return 0, 0
	}
	return u * v * v, v * (v - 4*u*u)
}
