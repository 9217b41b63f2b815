package chart

import (
	"encoding/binary"
	"hash/crc32"
	"io"
	"math"
)

// writeWithResolution writes an encoded PNG picture and tells how large it
// prints, which image/png leaves out: the pHYs chunk of the PNG specification
// (W3C, section 11.3.4.3), in dots a metre, after the header chunk.
func writeWithResolution(w io.Writer, picture []byte, dpi float64) error {
	const header = 8 + 4 + 4 + 13 + 4 // signature; length, name, content and sum of IHDR
	chunk := binary.BigEndian.AppendUint32(nil, 9)
	chunk = append(chunk, "pHYs"...)
	perMetre := uint32(math.Round(dpi / 0.0254))
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = binary.BigEndian.AppendUint32(chunk, perMetre)
	chunk = append(chunk, 1) // the unit is the metre
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	for _, part := range [][]byte{picture[:header], chunk, picture[header:]} {
		if _, err := w.Write(part); err != nil {
			return err
		}
	}
	return nil
}
