package accel

// Knot is a corner of a Falling table.
type Knot struct {
	At    uint16 // where the straight piece that starts here begins
	Value uint16 // what the table gives there
	Shift uint8  // the piece is 1<<Shift wide
}

// Falling is a function of a 16-bit number that never rises, as straight pieces.
// Each piece is a power of two wide and starts at a multiple of its width, so a
// look-up needs one multiplication, one shift and no division. The last knot only
// ends the last piece; its At is 65535, short of 65536 by what 16 bits can say.
type Falling []Knot

// At returns the function at x.
func (t Falling) At(x uint16) uint16 {
	i, end := 0, len(t)-1
	for end-i > 1 {
		mid := int(uint(i+end) >> 1)
		if x < t[mid].At {
			end = mid
		} else {
			i = mid
		}
	}
	k := t[i]
	drop := uint32(k.Value - t[i+1].Value)
	return k.Value - uint16(uint32(x-k.At)*drop>>k.Shift)
}

// fall makes a table of at most points knots for f, which maps 0…65536 to a
// value in 1/256 of the table's unit and never rises. It halves the worst piece
// until the knots run out or no piece is off by more than one unit. Errors count
// only under limit, because what lies beyond is never looked up, and in
// proportion to the value or to least, whichever is greater: a gain of 10 may be
// off by ten times as much as a gain of 1.
func fall(f func(x uint32) int64, limit uint32, least int64, points int) Falling {
	type piece struct {
		at    uint32
		shift uint8
		off   int64 // worst error, 0 where good enough
	}
	measure := func(at uint32, shift uint8) piece {
		width := uint32(1) << shift
		left, right := value(f(at)), value(f(at+width))
		stride := max(1, width/64)
		var worst int64
		for x := at; x < at+width && x < limit; x += stride {
			exact := f(x)
			got := int64(left) - int64((x-at)*uint32(left-right)>>shift)
			if off := max(got<<8-exact, exact-got<<8); off > 256 {
				worst = max(worst, off<<16/max(exact, least))
			}
		}
		return piece{at, shift, worst}
	}
	pieces := []piece{measure(0, 16)}
	for len(pieces) < points-1 {
		worst := 0
		for i, p := range pieces {
			if p.off > pieces[worst].off {
				worst = i
			}
		}
		p := pieces[worst]
		if p.off == 0 {
			break
		}
		half := p.shift - 1
		pieces = append(pieces, piece{})
		copy(pieces[worst+2:], pieces[worst+1:])
		pieces[worst] = measure(p.at, half)
		pieces[worst+1] = measure(p.at+1<<half, half)
	}
	t := make(Falling, 0, len(pieces)+1)
	for _, p := range pieces {
		t = append(t, Knot{uint16(p.at), value(f(p.at)), p.shift})
	}
	return append(t, Knot{0xffff, value(f(1 << 16)), 0})
}

// value rounds what a table is made from to the table's unit.
func value(v int64) uint16 { return uint16((v + 128) >> 8) }
