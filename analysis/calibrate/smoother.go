package calibrate

import (
	"math"
	"slices"
)

// smoother finds the most likely course of the clock through marks: its error x
// grows by a rate that wanders as a random walk, and marks scatter about it
// independently (the cubic smoothing spline: G. Wahba, JRSS B 40, 1978; A. C.
// Harvey, Forecasting, Structural Time Series Models and the Kalman Filter,
// 1989, section 2.3). How much it wanders is settled by maximum likelihood. A
// break in the count starts x at a place of its own, while the rate goes on.
//
// It works in scaled units: time in steps, x in standard deviations of a mark.
type smoother struct {
	knots  []knot
	wander float64 // variance of the rate gained in a step, over that of a mark
	noise  float64 // variance of a mark of weight 1
	pred   []gaussian
	filt   []gaussian
	smooth []gaussian
	gains  []matrix // of the backward pass, from knot k+1 to knot k
}

// knot is a time at which the clock's course is found; with weight 0 there is
// no mark.
type knot struct {
	t, x   float64
	weight float64 // inverse of the mark's variance, in units of noise
	fresh  bool
}

// gaussian is what is known of the error x, l, and of its rate s.
type gaussian struct{ l, s, ll, ls, ss float64 }

// matrix has two rows and columns.
type matrix struct{ ll, ls, sl, ss float64 }

// Variances of what nothing is known of, in scaled units.
const (
	anywhere = 1e10
	anyRate  = 1e6
)

func newSmoother(knots []knot) *smoother {
	n := len(knots)
	s := &smoother{
		knots: knots,
		pred:  make([]gaussian, n), filt: make([]gaussian, n), smooth: make([]gaussian, n), gains: make([]matrix, n),
	}
	s.settle()
	s.back()
	return s
}

// settle finds the wander of greatest likelihood: on a grid of decades, then by
// golden section.
func (s *smoother) settle() {
	n := float64(len(s.knots))
	low, high := math.Floor(-3*math.Log10(n))-2, 0.0
	best, top := low, math.Inf(-1)
	for e := low; e <= high; e++ {
		if l := s.filter(math.Pow(10, e)); l > top {
			best, top = e, l
		}
	}
	lo, hi := math.Max(low, best-1), math.Min(high, best+1)
	const golden = 0.6180339887
	for range 12 {
		a, b := hi-golden*(hi-lo), lo+golden*(hi-lo)
		if s.filter(math.Pow(10, a)) > s.filter(math.Pow(10, b)) {
			hi = b
		} else {
			lo = a
		}
	}
	s.filter(math.Pow(10, (lo+hi)/2))
}

// filter runs the Kalman filter and returns the log likelihood, up to a
// constant, with the noise that makes it greatest.
func (s *smoother) filter(wander float64) float64 {
	s.wander = wander
	logs, squares, n := 0.0, 0.0, -1 // the rate takes a degree of freedom
	g := gaussian{ll: anywhere, ss: anyRate}
	for i, k := range s.knots {
		if i > 0 {
			g = g.after(k.t-s.knots[i-1].t, wander)
			if k.fresh {
				g.l, g.ll, g.ls = k.x, anywhere, 0
			}
		}
		s.pred[i] = g
		if k.weight > 0 {
			v := 1 / k.weight
			total := g.ll + v
			e := k.x - g.l
			if total < anywhere/10 && total < anyRate/10 {
				logs += math.Log(total)
				squares += e * e / total
				n++
			}
			kl, ks := g.ll/total, g.ls/total
			g = gaussian{
				l: g.l + kl*e, s: g.s + ks*e,
				ll: g.ll * v / total, ls: g.ls * v / total, ss: g.ss - ks*g.ls,
			}
		}
		s.filt[i] = g
	}
	s.noise = 1
	if n > 0 && squares > 0 {
		s.noise = squares / float64(n)
	}
	return -0.5 * (logs + float64(max(n, 0))*math.Log(s.noise))
}

// after returns what is known dt steps later.
func (g gaussian) after(dt, wander float64) gaussian {
	return gaussian{
		l: g.l + dt*g.s, s: g.s,
		ll: g.ll + 2*dt*g.ls + dt*dt*g.ss + wander*dt*dt*dt/3,
		ls: g.ls + dt*g.ss + wander*dt*dt/2,
		ss: g.ss + wander*dt,
	}
}

// back runs the backward pass (Rauch, Tung and Striebel, AIAA Journal 3,
// 1965).
func (s *smoother) back() {
	n := len(s.knots)
	s.smooth[n-1] = s.filt[n-1]
	for i := n - 2; i >= 0; i-- {
		f, p, q := s.filt[i], s.pred[i+1], s.smooth[i+1]
		dt := s.knots[i+1].t - s.knots[i].t
		// The covariance of now and next; across a break, only the rate goes on.
		c := matrix{ll: f.ll + dt*f.ls, ls: f.ls, sl: f.ls + dt*f.ss, ss: f.ss}
		if s.knots[i+1].fresh {
			c.ll, c.sl = 0, 0
		}
		det := p.ll*p.ss - p.ls*p.ls
		g := matrix{
			(c.ll*p.ss - c.ls*p.ls) / det, (c.ls*p.ll - c.ll*p.ls) / det,
			(c.sl*p.ss - c.ss*p.ls) / det, (c.ss*p.ll - c.sl*p.ls) / det,
		}
		s.gains[i] = g
		dl, ds := q.l-p.l, q.s-p.s
		cll, cls, css := q.ll-p.ll, q.ls-p.ls, q.ss-p.ss
		s.smooth[i] = gaussian{
			l: f.l + g.ll*dl + g.ls*ds, s: f.s + g.sl*dl + g.ss*ds,
			ll: f.ll + g.ll*g.ll*cll + 2*g.ll*g.ls*cls + g.ls*g.ls*css,
			ls: f.ls + g.ll*g.sl*cll + (g.ll*g.ss+g.ls*g.sl)*cls + g.ls*g.ss*css,
			ss: f.ss + g.sl*g.sl*cll + 2*g.sl*g.ss*cls + g.ss*g.ss*css,
		}
	}
}

// rise returns by how much x grows from knot a to knot b, what happens at
// breaks left out, and the variance of that.
func (s *smoother) rise(a, b int) (growth, variance float64) {
	// The growth is a sum of weights times states; that of states up to k with
	// those after k follows from the covariance of neighbours, gain · next.
	weights := func(k int) (l, r float64) {
		dt := func(k int) float64 { return s.knots[k].t - s.knots[k-1].t }
		if k > a {
			if s.knots[k].fresh {
				r += dt(k) / 2
			} else {
				l++
			}
		}
		if k < b {
			if s.knots[k+1].fresh {
				r += dt(k+1) / 2
			} else {
				l--
			}
		}
		return l, r
	}
	var later [2]float64 // covariance of knot k's state with all later terms
	for k := b; k >= a; k-- {
		p := s.smooth[k]
		l, r := weights(k)
		growth += l*p.l + r*p.s
		pl, pr := p.ll*l+p.ls*r, p.ls*l+p.ss*r
		variance += l*(pl+2*later[0]) + r*(pr+2*later[1])
		if k > a {
			g := s.gains[k-1]
			u, v := pl+later[0], pr+later[1]
			later = [2]float64{g.ll*u + g.ls*v, g.sl*u + g.ss*v}
		}
	}
	return growth, max(variance, 0) * s.noise
}

// index returns the last knot that is not after t, the first for earlier ones.
func (s *smoother) index(t float64) int {
	i, found := slices.BinarySearchFunc(s.knots, t, func(k knot, t float64) int {
		switch {
		case k.t < t:
			return -1
		case k.t > t:
			return 1
		}
		return 0
	})
	if !found {
		i--
	}
	return max(i, 0)
}
