package wavio

// decodeLaw returns the decoder of a law of ITU-T G.711 (1988), of which linear
// gives the value of a code as a 16-bit sample.
func decodeLaw(linear func(code byte) int) decoder {
	var values [256]float32
	for code := range values {
		values[code] = float32(linear(byte(code))) * (1.0 / (1 << 15))
	}
	return func(dst []float32, src []byte, stride int) int {
		j := 0
		for i := range dst {
			dst[i] = values[src[j]]
			j += stride
		}
		return 0
	}
}

var (
	decodeALaw  = decodeLaw(aLaw)
	decodeMuLaw = decodeLaw(muLaw)
)

// aLaw is table 1 of G.711, on a scale of 4096 there: sign, segment e and
// interval m of a code, whose even bits are sent inverted, stand for the middle
// of the interval, 2m+1 in segment 0 and (2m+33)·2^(e−1) above.
func aLaw(code byte) int {
	code ^= 0x55
	v := 2*int(code&15) + 1
	if e := code >> 4 & 7; e > 0 {
		v = (v + 32) << (e - 1)
	}
	if code&0x80 == 0 {
		v = -v
	}
	return 8 * v
}

// muLaw is table 2 of G.711, on a scale of 8192 there: sign, segment e and
// interval m of a code, whose bits are all sent inverted, stand for
// (2m+33)·2^e − 33. The sign bit, once it is inverted back, means negative.
func muLaw(code byte) int {
	code = ^code
	v := (2*int(code&15)+33)<<(code>>4&7) - 33
	if code&0x80 != 0 {
		v = -v
	}
	return 4 * v
}
