package figure

import (
	"image/png"
	"io"
)

// The size of a picture that is shown beside a link, CSS pixels; it has two dots to
// each. Forums and messengers expect 1200 by 630 dots (common practice, no source).
const (
	shareWidth  = 600 * px
	shareHeight = 315 * px
)

// Share writes a figure of pairs as a PNG of 1200 by 630 dots, to stand beside a link:
// its title large, and a line at the foot. Rows beyond what fits are left out, and
// counted.
func (f *Figure) Share(w io.Writer, foot string) error {
	const side, least = 22 * px, 21 * px
	p := &plot{scene: &scene{w: shareWidth}, f: f}
	y := length(14 * px)
	for _, line := range bold().wrap(clean(f.Title), headlineSize, p.w-2*side, 2) {
		y += 20 * px
		p.text(headline, Ink, side, y, begin, line)
		y += 5 * px
	}
	y += 6 * px
	m, _ := f.pairs()
	room := shareHeight - y - 92*px // less the key, the heads, the limit's name and the foot
	left := 0
	if most := max(1, int(room/least)); len(m.Rows) > most {
		left = len(m.Rows) - most
		m.Rows = m.Rows[:most]
	}
	p.row = min(32*px, room/length(max(1, len(m.Rows))))
	p.pairs(m, side, y)
	if left > 0 {
		foot = "And " + plainNumber(float64(left)) + " more. " + foot
	}
	p.text(quiet, Quiet, side, shareHeight-14*px, begin, cut(clean(foot), p.w-2*side))
	p.h = shareHeight
	picture, err := p.paint(f.Name)
	if err != nil {
		return err
	}
	return png.Encode(w, picture)
}
