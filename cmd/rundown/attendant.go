package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"time"

	"golang.org/x/term"

	"rundown/analysis/live"
	"rundown/analysis/prose"
	"rundown/dsp/capture"
	"rundown/dsp/wavio"
)

// attendant shows how a recording goes, and warns. It never holds it up.
type attendant struct {
	ctx    context.Context
	flags  *recordFlags
	rec    *capture.Recording
	in     *capture.Input
	out    io.Writer
	screen bool // out is a terminal
	shown  int  // characters of the line that stays in place

	listening sync.WaitGroup

	mu       sync.Mutex // guards what follows, and out
	listener *live.Listener
	growing  *wavio.Growing
}

func newAttendant(ctx context.Context, a *recordFlags, rec *capture.Recording, in *capture.Input, stderr io.Writer) *attendant {
	return &attendant{ctx: ctx, flags: a, rec: rec, in: in, out: stderr, screen: isTerminal(stderr)}
}

// part follows a part of the recording as it grows, on a goroutine of its own.
func (t *attendant) part(g *wavio.Growing) {
	listener := live.NewListener(live.Options{Nominal: t.flags.bph, Channel: t.flags.channel})
	t.mu.Lock()
	t.listener, t.growing = listener, g
	t.mu.Unlock()
	src, err := g.Follow(0)
	if err != nil {
		t.say("The sound cannot be followed while it is recorded: " + err.Error() + ".")
		return
	}
	stop := context.AfterFunc(t.ctx, func() { src.Close() })
	t.listening.Go(func() {
		defer stop()
		defer src.Close()
		if err := listener.Listen(t.ctx, src); err != nil && t.ctx.Err() == nil {
			t.say("The sound cannot be followed while it is recorded: " + err.Error() + ".")
		}
	})
}

// say prints a sentence above the line that stays in place.
func (t *attendant) say(text string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.flags.quiet {
		return
	}
	t.wipe()
	fmt.Fprintln(t.out, prose.Terminal(text))
}

// begin says what is recorded.
func (t *attendant) begin(awake bool) {
	t.say(fmt.Sprintf("Recording %s from %s: %s. Ctrl-C ends it.", wavio.OneLine(t.rec.Path), t.in.About, soundOf(t.in.Format())))
	if t.in.Note != "" {
		t.say(t.in.Note + ".")
	}
	if !awake {
		t.say("Nothing here keeps the computer from sleeping: see to that yourself.")
	}
}

// The line is renewed every second where it stays in place, and else printed
// every minute.
const lineEvery = 60

// attend shows how it goes until its context ends; cancel ends the recording.
func (t *attendant) attend(cancel func()) (done chan struct{}) {
	done = make(chan struct{})
	if !t.flags.quiet {
		t.listening.Go(t.inspect)
	}
	go func() {
		defer close(done)
		defer t.clear()
		defer t.listening.Wait()
		second := time.NewTicker(time.Second)
		defer second.Stop()
		for n := 1; ; n++ {
			select {
			case <-t.ctx.Done():
				return
			case <-second.C:
			}
			if t.screen || n%lineEvery == 0 {
				l := t.rec.Level()
				t.line(prose.Status(t.going(), slices.Max(l.Peak), slices.Max(l.RMS)))
			}
			if t.stopped() {
				t.say(fmt.Sprintf("No beat was heard for %v: the recording ends.", t.flags.afterStop))
				cancel()
			}
		}
	}()
	return done
}

// inspect warns of what can be mended, each once. Looking never holds up the
// line, which goes on meanwhile.
func (t *attendant) inspect() {
	opt, err := t.flags.options()
	if err != nil {
		return // the analysis says so
	}
	inspector := live.NewInspector(opt)
	var low, battery bool
	every := time.NewTicker(time.Second)
	defer every.Stop()
	for {
		select {
		case <-t.ctx.Done():
			return
		case <-every.C:
		}
		if g := t.going(); !low && t.tight(g) {
			low = true
			t.warn(prose.LittleSpace(g.Left))
		}
		t.mu.Lock()
		part := t.growing
		t.mu.Unlock()
		if !inspector.Due(t.seconds(part.Frames())) {
			continue
		}
		if !battery && capture.OnBattery() {
			battery = true
			t.warn(prose.OnBattery)
		}
		news, silent, err := inspector.Inspect(t.ctx, part)
		if err != nil {
			continue // it ends, or the next part begins
		}
		for _, r := range news {
			t.warn(prose.Warning(r))
		}
		for _, c := range silent {
			t.warn(prose.SilentChannel(c))
		}
	}
}

func (t *attendant) warn(text string) { t.say("Warning: " + text) }

// tight reports whether the disk has no room for what is still to be recorded, or,
// where nobody said how long that is, for an hour.
func (t *attendant) tight(g prose.Going) bool {
	need := time.Hour.Seconds()
	if t.flags.length > 0 {
		need = t.flags.length.Seconds() - g.Elapsed
	}
	return g.Left < need
}

// going is how it goes.
func (t *attendant) going() prose.Going {
	g := prose.Going{Elapsed: t.seconds(t.rec.Frames()), Left: math.NaN(), Beat: t.current().Figures()}
	if free, ok := capture.Space(filepath.Dir(t.rec.Path)); ok {
		g.Left = float64(free) / t.rec.BytesPerSecond()
	}
	return g
}

func (t *attendant) current() *live.Listener {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.listener
}

func (t *attendant) seconds(frames int64) float64 {
	return float64(frames) / float64(t.in.Format().SampleRate)
}

// stopped reports whether the movement has stood still for as long as it may.
func (t *attendant) stopped() bool {
	f := t.current().Figures()
	return t.flags.afterStop > 0 && f.Found && t.seconds(f.Analysed)-f.Last > t.flags.afterStop.Seconds()
}

// line shows how it goes: in place on a terminal.
func (t *attendant) line(text string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.flags.quiet {
		return
	}
	text = prose.Terminal(text)
	if !t.screen {
		fmt.Fprintln(t.out, text)
		return
	}
	r := []rune(text)
	if width, _, err := term.GetSize(int(t.out.(*os.File).Fd())); err == nil && len(r) >= width {
		r = r[:max(0, width-1)]
	}
	fmt.Fprintf(t.out, "\r%s%*s", string(r), max(0, t.shown-len(r)), "")
	t.shown = len(r)
}

// wipe takes the line away that stays in place. The caller holds mu.
func (t *attendant) wipe() {
	if t.shown > 0 {
		fmt.Fprintf(t.out, "\r%*s\r", t.shown, "")
		t.shown = 0
	}
}

func (t *attendant) clear() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.wipe()
}
