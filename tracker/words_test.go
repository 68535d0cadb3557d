package tracker

import "testing"

// TestSentenceParts: the small words of sentences, as English has them.
func TestSentenceParts(t *testing.T) {
	for _, pair := range [][2]string{
		{Capital("morning"), "Morning"}, {Capital("écru mare"), "Écru mare"}, {Capital("2 days"), "2 days"}, {Capital(""), ""},
		{Small("The vet comes"), "the vet comes"}, {Small("Écru"), "écru"}, {Small(""), ""},
		{Count(1, "day"), "1 day"}, {Count(0, "look"), "0 looks"}, {Count(12, "horse"), "12 horses"},
		{List(nil), ""}, {List([]string{"LF"}), "LF"}, {List([]string{"LF", "RF"}), "LF and RF"}, {List([]string{"LF", "RF", "LH"}), "LF, RF and LH"},
	} {
		if pair[0] != pair[1] {
			t.Errorf("got %q, want %q", pair[0], pair[1])
		}
	}
}
