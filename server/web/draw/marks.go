package draw

import (
	"fmt"
	"html/template"
	"strings"
)

// labelMark is the mark of one label in a 32 by 32 square. Dashed marks are stroked, all others filled.
type labelMark struct{ label, path string }

const (
	patchSquare = "M1,1h30v30h-30Z "
	dashed      = "M4,4h24v24H4Z"
)

// labelMarks in the words of the labels. slow stands over a level bar and early widening over a
// broken one: closing, but near to level; widening, but too early to count.
var labelMarks = [...]labelMark{
	{"closing", "M2,4 13,16 2,28Z M30,4 19,16 30,28Z"},
	{"slow", "M2,2 13,11.5 2,21Z M30,2 19,11.5 30,21Z M3,25h26v5H3Z"},
	{"not closing", "M4,8h24v5H4Z M4,19h24v5H4Z"},
	{"widening", "M13,4 2,16 13,28Z M19,4 30,16 19,28Z"},
	{"early widening", "M13,2 2,11.5 13,21Z M19,2 30,11.5 19,21Z M2,25h5v5H2Z M10,25h5v5h-5Z M18,25h5v5h-5Z M26,25h5v5h-5Z"},
	{"unclear", "M2,1 13,8 2,15Z M30,1 19,8 30,15Z M13,17 2,24 13,31Z M19,17 30,24 19,31Z"},
	{"closed over", "M14,2h4v28h-4Z M8,6h16v4H8Z M8,14h16v4H8Z M8,22h16v4H8Z"},
	{"too early to say", dashed},
	{"clearing", patchSquare + "M5,6 14,16 5,26Z M27,6 18,16 27,26Z"},
	{"no change", patchSquare + "M6,9h20v5H6Z M6,18h20v5H6Z"},
	{"worse", patchSquare + "M14,6 5,16 14,26Z M18,6 27,16 18,26Z"},
	{"clear", patchSquare + "M14,5h4v4h6v4h-6v2h6v4h-6v2h6v4h-6v2h-4v-2h-6v-4h6v-2h-6v-4h6v-2h-6v-4h6Z"},
}

// Labels lists the labels that have a mark, wound labels first.
func Labels() []string {
	words := make([]string, len(labelMarks))
	for i, m := range labelMarks {
		words[i] = m.label
	}
	return words
}

// LabelClass gives the class of leground.css for a label: its words with hyphens.
func LabelClass(label string) string { return strings.ReplaceAll(label, " ", "-") }

// Mark draws the gap mark of a wound or patch label, such as "not closing". The word itself must stand
// beside it. A label that is not one of Labels is an error.
func Mark(label string) (template.HTML, error) {
	path, err := markPath(label)
	if err != nil {
		return "", err
	}
	return figure("mark "+LabelClass(label), path), nil
}

// markPath gives the path element of a label in a 32 by 32 square.
func markPath(label string) (string, error) {
	for _, m := range labelMarks {
		if m.label != label {
			continue
		}
		if m.path == dashed {
			return `<path d="` + dashed + `" fill="none" stroke="currentColor" stroke-width="4" stroke-dasharray="4"/>`, nil
		}
		rule := ""
		if strings.HasPrefix(m.path, patchSquare) {
			rule = ` fill-rule="evenodd"` // the figure is a hole in the square
		}
		return `<path d="` + m.path + `" fill="currentColor"` + rule + `/>`, nil
	}
	return "", fmt.Errorf("draw: %q is not a label with a mark", label)
}

// figure wraps a small drawing of 32 by 32 units that stands beside words, 24 px high.
func figure(class, inside string) template.HTML {
	return template.HTML(`<svg class="` + class + `" viewBox="0 0 32 32" width="24" height="24" aria-hidden="true" focusable="false">` + inside + `</svg>`)
}

// State is how far one thing to do has come, shown as a square beside its words.
type State int

// The states. They serve a check on its way from the phone as well as a round.
const (
	ToDo        State = iota + 1 // hollow: to do, open, no record
	SavedHere                    // lower half filled: saved on this phone, part done
	Sent                         // filled: sent to the yard, done
	NeedsALook                   // notched: needs a look
	NotLookedAt                  // struck through: not looked at, skipped
)

const hollow = `<path d="M4,4h24v24H4Z" fill="none" stroke="currentColor" stroke-width="3"/>`

// Square draws the state square; the zero State is an error. The words must stand beside it.
func Square(state State) (template.HTML, error) {
	var inside string
	switch state {
	case ToDo:
		inside = hollow
	case SavedHere:
		inside = hollow + `<path d="M4,16h24v12H4Z" fill="currentColor"/>`
	case Sent:
		inside = `<path d="M2.5,2.5h27v27h-27Z" fill="currentColor"/>`
	case NeedsALook:
		inside = `<path d="M2.5,2.5H19L15,17L29.5,13V29.5H2.5Z" fill="currentColor"/>`
	case NotLookedAt:
		inside = hollow + `<path d="M4,28 28,4" stroke="currentColor" stroke-width="3"/>`
	default:
		return "", fmt.Errorf("draw: %d is not a state", state)
	}
	return figure("square", inside), nil
}

// Dot draws the dot of a reading for a table: filled for a standing value, hollow for one that was
// corrected since and is no longer in the chart.
func Dot(standing bool) template.HTML {
	if standing {
		return figure("dot", `<circle cx="16" cy="16" r="8" fill="currentColor"/>`)
	}
	return figure("dot", `<circle cx="16" cy="16" r="7" fill="none" stroke="currentColor" stroke-width="3"/>`)
}
