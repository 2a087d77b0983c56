package accel

// mostRemembered is how many detents a Window remembers at most.
const mostRemembered = 32

// factor brings the estimate up to tick now and returns the curve's factor in
// 1/256. turned says that the detent's direction is not that of the one before.
func (g *Gain) factor(s *Memory, now int64, turned bool) uint16 {
	gap := uint64(now - s.last) // a clock that went back counts as a rest
	s.last = now
	switch {
	case s.dir == 0 || gap >= uint64(g.Rest) || turned && g.Reversal == Reset:
		s.estimate, s.step, s.in = Never, 0, 0
		if g.From == Window {
			g.remember(s, now)
		}
		return 256
	case turned: // Keep: this detent goes by the old estimate
		if g.From == Window {
			g.remember(s, now)
		}
	default:
		g.estimate(s, now, g.units(uint32(gap)))
	}
	return g.lookUp(s)
}

// lookUp returns the factor for the estimate.
func (g *Gain) lookUp(s *Memory) uint16 {
	switch {
	case g.Table == nil:
		return g.climb(s)
	case s.estimate == Never:
		return 256
	}
	return g.Table.At(s.estimate)
}

// units converts a gap in ticks, under Rest, to an interval.
func (g *Gain) units(gap uint32) uint16 {
	if g.Shift < 0 {
		return uint16(gap >> uint(-g.Shift))
	}
	return uint16(gap << uint(g.Shift))
}

// estimate takes in the newest interval.
func (g *Gain) estimate(s *Memory, now int64, interval uint16) {
	switch g.From {
	case Last:
		s.estimate = interval
	case Average:
		switch old := s.estimate; {
		case old == Never:
			s.estimate = interval + uint16(g.Over)
		case old > interval:
			s.estimate = interval + uint16(uint32(old-interval)*uint32(g.Remain.At(old))>>15)
		default:
			s.estimate = interval - uint16(uint32(interval-old)*uint32(g.Remain.At(old))>>15)
		}
	case Window:
		for s.in > 0 && uint32(now)-s.times[s.oldest] > g.Over {
			s.oldest = (s.oldest + 1) % mostRemembered
			s.in--
		}
		s.estimate = g.Spaced[s.in]
		g.remember(s, now)
	}
}

// remember puts the newest detent into the window.
func (g *Gain) remember(s *Memory, now int64) {
	if int(s.in) == len(g.Spaced)-1 {
		s.oldest = (s.oldest + 1) % mostRemembered
		s.in--
	}
	s.times[(s.oldest+s.in)%mostRemembered] = uint32(now)
	s.in++
}

// climb moves the ladder's step to where the estimate wants it and returns its
// factor.
func (g *Gain) climb(s *Memory) uint16 {
	for int(s.step) < len(g.Enter) && s.estimate < g.Enter[s.step] {
		s.step++
	}
	for s.step > 0 && s.estimate >= g.Leave[s.step-1] {
		s.step--
	}
	return g.Factor[s.step]
}
