package main

import (
	"bytes"
	"regexp"
	"strings"
	"testing"

	"leground/tracker"
	"leground/tracker/care"
)

// The Board in a terminal goes round each horse as it is walked round: in its own order, else in the yard's.
func TestBoardInWalkingOrder(t *testing.T) {
	order := func(text string) tracker.WalkingOrder {
		o, err := tracker.ParseWalkingOrder(text)
		if err != nil {
			t.Fatal(err)
		}
		return o
	}
	var legs []care.BoardLeg
	for _, leg := range tracker.Legs() {
		legs = append(legs, care.BoardLeg{Leg: leg})
	}
	var view care.BoardView
	view.Yard.Order = order("LF RF RH LH")
	view.Horses = []care.BoardHorse{{Horse: tracker.Horse{Name: "Bramble"}, Legs: legs}, {Horse: tracker.Horse{Name: "Tom", Order: order("RH LH LF RF")}, Legs: legs}}
	var out bytes.Buffer
	printBoard(&out, view)
	got := strings.Join(regexp.MustCompile(`\b[LR][FH]\b`).FindAllString(out.String(), -1), " ")
	if want := "LF RF RH LH RH LH LF RF"; got != want {
		t.Errorf("the legs come as %s, want %s:\n%s", got, want, out.String())
	}
}

// A horse that is away keeps its name in its own caution, in a terminal too.
func TestBoardNamesAHorseThatIsAway(t *testing.T) {
	view := care.BoardView{Names: map[tracker.HorseID]string{"juniper": "Juniper (away)"}}
	view.Cautions = []tracker.Caution{{Horse: "juniper", Level: tracker.RingNow, Seen: "Will not put weight on it."}}
	var out bytes.Buffer
	printBoard(&out, view)
	if !strings.Contains(out.String(), "RING THE VET NOW. Juniper (away): Will not put weight on it.") {
		t.Errorf("the Board says:\n%s", out.String())
	}
}
