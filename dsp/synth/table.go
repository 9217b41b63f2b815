package synth

import (
	"bufio"
	"io"
	"iter"
	"strconv"
)

// tableHead names the columns that WriteBeats writes.
const tableHead = "beat,true_s,elapsed_s,frame,side,audible,covered,amplitude_deg,lift_ms,level_db,rate_s_per_day,steady_s\n"

// WriteBeats writes a table of beats as CSV, a row a beat.
func WriteBeats(w io.Writer, beats iter.Seq[Beat]) error {
	out := bufio.NewWriter(w)
	out.WriteString(tableHead)
	var row []byte
	for b := range beats {
		row = b.appendRow(row[:0])
		if _, err := out.Write(row); err != nil {
			return err
		}
	}
	return out.Flush()
}

func (b Beat) appendRow(row []byte) []byte {
	number := func(x float64, decimals int) {
		row = append(strconv.AppendFloat(row, x, 'f', decimals, 64), ',')
	}
	flag := func(x bool) {
		digit := byte('0')
		if x {
			digit = '1'
		}
		row = append(row, digit, ',')
	}
	row = append(strconv.AppendInt(row, b.Index, 10), ',')
	number(b.Time, 9)
	number(b.Elapsed, 9)
	number(b.Frame, 4)
	if b.Tock {
		row = append(row, "tock,"...)
	} else {
		row = append(row, "tick,"...)
	}
	flag(b.Audible)
	flag(b.Covered)
	number(b.Amplitude, 4)
	number(1e3*b.Lift, 6)
	number(b.Level, 2)
	number(b.Rate, 5)
	number(b.Steady, 9)
	row[len(row)-1] = '\n'
	return row
}
