package recording

// decimal reads a decimal number, with or without a sign, a fraction and an
// exponent, as a whole number of 10^-places, halves away from zero. The fraction
// starts at a point, or also at a comma where comma is allowed. It fails on
// anything else, and on a number that does not fit. Digits after the 18th
// significant one are cut.
func decimal(b []byte, places int, comma bool) (int64, bool) {
	i, neg := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg, i = b[0] == '-', 1
	}
	var mantissa int64
	digits, point := 0, false
	for ; i < len(b); i++ {
		c := b[i]
		switch {
		case c >= '0' && c <= '9':
			digits++
			if mantissa >= 1e17 {
				if !point {
					return 0, false
				}
				continue
			}
			mantissa = mantissa*10 + int64(c-'0')
			if point {
				places--
			}
			continue
		case !point && (c == '.' || comma && c == ','):
			point = true
			continue
		case c == 'e' || c == 'E':
			exp, ok := exponent(b[i+1:])
			if !ok {
				return 0, false
			}
			places += exp
			i = len(b)
		default:
			return 0, false
		}
	}
	if digits == 0 {
		return 0, false
	}
	for ; places > 0 && mantissa != 0; places-- {
		if mantissa > (1<<63-1)/10 {
			return 0, false
		}
		mantissa *= 10
	}
	for ; places < -1 && mantissa != 0; places++ {
		mantissa /= 10
	}
	if places == -1 {
		mantissa = (mantissa + 5) / 10
	}
	if neg {
		mantissa = -mantissa
	}
	return mantissa, true
}

// exponent reads a whole number from −99 to 99.
func exponent(b []byte) (int, bool) {
	neg := false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg, b = b[0] == '-', b[1:]
	}
	if len(b) == 0 || len(b) > 2 {
		return 0, false
	}
	n := 0
	for _, c := range b {
		if c < '0' || c > '9' {
			return 0, false
		}
		n = n*10 + int(c-'0')
	}
	if neg {
		n = -n
	}
	return n, true
}

// whole reads a signed whole number of at most 18 digits in the given base, 10
// or 16.
func whole(b []byte, base int64) (int64, bool) {
	neg := false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		neg, b = b[0] == '-', b[1:]
	}
	if len(b) == 0 || len(b) > 18 || base == 16 && len(b) > 15 {
		return 0, false
	}
	var n int64
	for _, c := range b {
		var d int64
		switch {
		case c >= '0' && c <= '9':
			d = int64(c - '0')
		case base == 16 && c|0x20 >= 'a' && c|0x20 <= 'f':
			d = int64(c|0x20-'a') + 10
		default:
			return 0, false
		}
		n = n*base + d
	}
	if neg {
		n = -n
	}
	return n, true
}
