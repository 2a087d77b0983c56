package figure

import "github.com/clipperhouse/displaywidth"

// sheet is a field of characters; an empty string continues a wide one before.
type sheet [][]string

func newSheet(columns, rows int) sheet {
	s := make(sheet, rows)
	for i := range s {
		s[i] = make([]string, columns)
		for j := range s[i] {
			s[i][j] = " "
		}
	}
	return s
}

func (s sheet) set(x, y int, r rune) {
	if y >= 0 && y < len(s) && x >= 0 && x < len(s[y]) {
		s[y][x] = string(r)
	}
}

func (s sheet) blank(x, y int) bool {
	return y >= 0 && y < len(s) && x >= 0 && x < len(s[y]) && s[y][x] == " "
}

// under draws only where nothing is yet.
func (s sheet) under(x, y int, r rune) {
	if s.blank(x, y) {
		s.set(x, y, r)
	}
}

// write puts a text into a row if there is room.
func (s sheet) write(x, y int, text string) bool {
	n := cells(text)
	if n == 0 || y < 0 || y >= len(s) || x < 0 || x+n > len(s[y]) {
		return false
	}
	for i := range n {
		if !s.blank(x+i, y) {
			return false
		}
	}
	for _, r := range text {
		w := displaywidth.Rune(r)
		if w == 0 {
			continue
		}
		s[y][x] = string(r)
		for k := 1; k < w; k++ {
			s[y][x+k] = ""
		}
		x += w
	}
	return true
}
