package sequence

import (
	"fmt"
	"os"
	"strconv"
	"testing"
)

func TestDebug(t *testing.T) {
	if os.Getenv("DBG") == "" {
		t.Skip()
	}
	seed, _ := strconv.Atoi(os.Getenv("DBG"))
	var m movement
	if os.Getenv("CLEAN") != "" {
		m = draw(uint64(seed), 3600)
		sp := m
		sp.spoil()
		m.outliers, m.wild, m.unheard, m.ratio = sp.outliers, sp.wild, sp.unheard, sp.ratio
		m.modulate()
	} else {
		m = draw(uint64(seed), 1200)
		m.spoil()
	}
	tr := m.run()
	s := Tell(tr.beats)
	pairs, missed, extra := match(tr, s)
	fmt.Printf("interval %g beats %d course %v outl %g wild %g unheard %g sigma %g ratio %g uneven %g teeth %d walk %g hes %+v\n", m.interval, m.beats, m.course != nil, m.outliers, m.wild, m.unheard, m.scatter, m.ratio, m.uneven, m.teeth, m.walk, m.hesitate)
	for i, p := range pairs {
		if d := p[0].Shift - p[1].Shift; d*d > 9*p[1].SE*p[1].SE && i < 2000 {
			fmt.Printf("  off %d %d: true %.1f found %.1f se %.1f us\n", p[0].Beat, p[1].Beat, p[0].Shift*1e6, p[1].Shift*1e6, p[1].SE*1e6)
		}
	}
	for _, p := range missed {
		fmt.Printf("  missed %d %.1f us\n", p.Beat, p.Shift*1e6)
	}
	for _, p := range extra {
		fmt.Printf("  false %d %.1f se %.1f odds %.1f\n", p.Beat, p.Shift*1e6, p.SE*1e6, p.LogOdds)
	}
	fmt.Println(" outliers found", len(s.Outliers), "scatter", s.Scatter, "uneven", s.Uneven)
	if os.Getenv("MEM") != "" {
		fmt.Println(s.memories)
	}
}

func TestAround(t *testing.T) {
	seed, _ := strconv.Atoi(os.Getenv("DBG"))
	at, _ := strconv.Atoi(os.Getenv("AT"))
	if at == 0 {
		t.Skip()
	}
	m := draw(uint64(seed), 1200)
	m.spoil()
	if os.Getenv("CLEAN") != "" {
		m = draw(uint64(seed), 3600)
		sp := m
		sp.spoil()
		m.outliers, m.wild, m.unheard, m.ratio = sp.outliers, sp.wild, sp.unheard, sp.ratio
		m.modulate()
	}
	tr := m.run()
	m.outliers, m.scatter = 0, 0
	m.hesitate, m.steps = nil, nil
	cl := m.run()
	s := Tell(tr.beats)
	for i := at - 8; i < at+12; i++ {
		alone, step := "", ""
		for _, o := range s.Outliers {
			if o == int64(i) {
				alone = "alone"
			}
		}
		for _, o := range s.Steps {
			if o.Beat == int64(i) {
				step = "step"
			}
		}
		fmt.Printf("%d %d %.1f %s %s\n", i, i%2, (tr.beats[i].Time-cl.beats[i].Time)*1e6, alone, step)
	}
}

func TestMod(t *testing.T) {
	if os.Getenv("MOD") == "" {
		t.Skip()
	}
	for _, p := range []float64{43.2, 225, 1800} {
		m := even(0, 9000)
		m.scatter = 10e-6
		m.modulation = []modulation{{p, 400e-6, 1}}
		if p == 1800 {
			m.modulation[0].size = 900e-6
		}
		s := Tell(m.run().beats)
		fmt.Println(p, s.Scatter, s.Uneven, s.memories)
	}
	dbg = true
	m := even(1, 9000)
	m.uneven = 50e-6
	m.hesitate = &hesitation{phase: 7, share: .7, size: 1e-3}
	tr := m.run()
	s := Tell(tr.beats)
	pairs, missed, extra := match(tr, s)
	fmt.Println(len(pairs), len(missed), extra[:10], s.Uneven)
	for _, p := range pairs[:20] {
		fmt.Println(p[1])
	}
}
