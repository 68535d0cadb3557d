package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// beside says to the second phone that somebody else looked at the same in this round, and at once when
// the same care was ticked twice.
func (h *Handler) beside(r *http.Request, out *receipt, b *care.Beside) error {
	if b == nil {
		return nil
	}
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	at := clockName(b.Check.At, yard.Zone)
	out.Compare = "/check/" + string(b.Check.Root)
	out.Also = fmt.Sprintf("%s also looked at it in this round, at %s%s. Both are kept.", b.By, at, sizeWords(b.Check))
	if acts := careWords(b.Twice); acts != "" {
		out.Twice = fmt.Sprintf("Given twice? %s ticked %s at %s too.", b.By, acts, at)
	}
	return nil
}

func sizeWords(c tracker.Check) string {
	if !c.Size.Answer.HasLengths() {
		return ""
	}
	return ": " + lengths(c.Size)
}

// careWords names acts of care in a sentence: "washed and dried".
func careWords(acts []tracker.CareAct) string {
	var names []string
	for _, act := range acts {
		names = append(names, strings.ToLower(tracker.CareName(act)))
	}
	return tracker.List(names)
}

// DoubledNote says on the Board that something was looked at more than once, and what each look found.
type DoubledNote struct {
	What  string
	Twice string // care that was ticked more than once; empty: none
	Looks []DoubledLook
}

// DoubledLook is one of the looks.
type DoubledLook struct {
	By    string // "21:37 Cy"
	Check tracker.Check
}

func doubledNote(d care.Doubled, people map[tracker.PersonID]string, zone *time.Location) DoubledNote {
	note := DoubledNote{What: d.What, Twice: tracker.Capital(careWords(d.Twice))}
	for _, c := range d.Checks {
		note.Looks = append(note.Looks, DoubledLook{clockName(c.At, zone) + " " + people[c.Looker], c})
	}
	return note
}
