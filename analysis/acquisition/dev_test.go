package acquisition

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"rundown/dsp/wavio"
)

func TestDev(t *testing.T) {
	files, _ := filepath.Glob(os.Getenv("DEV"))
	secs := 60.
	if v := os.Getenv("SECS"); v != "" {
		secs, _ = strconv.ParseFloat(v, 64)
	}
	bad, none, low, over := 0, 0, 0, 0
	for _, f := range files {
		src, err := wavio.Open(f)
		if err != nil {
			t.Fatal(err)
		}
		rate := float64(src.Format().SampleRate)
		x := make([]float32, int(secs*rate))
		got := 0
		for got < len(x) {
			n, err := src.Read([][]float32{x[got:]})
			got += n
			if err != nil {
				break
			}
		}
		x = x[:got]
		var c struct {
			Movement struct{ Bph float64 }
			Sound    struct{ Snr float64 }
		}
		b, _ := os.ReadFile(f[:len(f)-3] + "json")
		json.Unmarshal(b, &c)
		T := 1.0
		if c.Movement.Bph > 0 {
			T = 7200 / c.Movement.Bph
		}
		opt := Options{}
		if os.Getenv("NOM") != "" {
			opt.Period = T * rate
		}
		t0 := time.Now()
		debugging = os.Getenv("DBG") != ""
		h := Find(context.Background(), x, rate, opt)
		fmt.Printf("%s snr %.1f bph %.0f %.2fs ", filepath.Base(f), c.Sound.Snr, c.Movement.Bph, time.Since(t0).Seconds())
		if h == nil {
			none++
			fmt.Println("NONE")
			continue
		}
		q := h.Period / rate / T
		fmt.Printf("ratio %.4f odds %.1f over %.3f clear %.1f", q, h.Odds, h.Rival/rate/T, h.Clear)
		if h.Odds < 2 {
			low++
			fmt.Print(" LOW")
		}
		if math.Abs(q-1) > .01 {
			bad++
			if h.Odds >= 2 {
				over++
			}
			fmt.Print(" BAD")
		}
		fmt.Println()
	}
	fmt.Println("n", len(files), "none", none, "low", low, "bad", bad, "bad at high odds", over)
}
