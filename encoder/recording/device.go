package recording

// Listed is an event device of this system and what it can tell.
type Listed struct {
	Path string // such as /dev/input/event5
	Device
	Turns   []string // controls that move by counts: wheel, dial, rel0, abs3
	Buttons int      // how many buttons it has
	Keys    int      // and how many keys; a whole keyboard has a hundred
	Err     error    // why the rest could not be read
}

// abilities fills in what the bits of a device's event types say: bits of type
// evKey, evRel and evAbs, lowest code first.
func (l *Listed) abilities(typ uint16, bits []byte) {
	for i, b := range bits {
		for code := uint16(i * 8); b != 0; code, b = code+1, b>>1 {
			if b&1 == 0 {
				continue
			}
			name := controlName(typ, code)
			switch {
			case typ == evKey && name[0] == 'b':
				l.Buttons++
			case typ == evKey:
				l.Keys++
			case typ == evRel && (code == relWheelHiRes || code == relHWheelHiRes) || typ == evAbs && code >= absMT:
			default:
				l.Turns = append(l.Turns, name)
			}
		}
	}
}
