package evidence

import "testing"

// BenchmarkEvidence does every check as the command does.
func BenchmarkEvidence(b *testing.B) {
	for b.Loop() {
		if _, err := Checks(b.Context(), Full, 2, nil); err != nil {
			b.Fatal(err)
		}
	}
}
