package notify

import (
	htmltemplate "html/template"
)

// Longest texts typed by people, in characters.
const (
	nameLimit     = 60
	sentenceLimit = 240
)

// view is what the templates see: Content made harmless and cut to size.
type view struct {
	Content
	Subject    string
	MoreHorses int // horses left out
	Calls      []call
	MoreCalls  int
	MoreLines  int
	Lookable   bool // the round is listed
	Late       bool // the round has not been received yet
	Diagnosis  string
	Fewer      bool // so few reminders were acted on that fewer may serve better
}

// call is a caution with its number as a phone can dial it.
type call struct {
	Caution
	Dial htmltemplate.URL
}

// viewOf makes a view that holds at most the given number of entries of each list.
func viewOf(c Content, most int) view {
	v := view{Content: c, Diagnosis: NotADiagnosis}
	v.Yard, v.Round = OneLine(c.Yard, nameLimit), OneLine(c.Round, nameLimit)
	v.Due, v.UseBy = OneLine(c.Due, nameLimit), OneLine(c.UseBy, nameLimit)
	v.Asked, v.Title = OneLine(c.Asked, 2*nameLimit), OneLine(c.Title, nameLimit)
	v.Link, v.Stop = webLink(c.Link), webLink(c.Stop)
	v.Week.Days = OneLine(c.Week.Days, nameLimit)
	v.Late = c.Kind == Nudge || c.Kind == SecondPerson
	v.Lookable = c.Kind == RoundDue || v.Late
	v.Fewer = c.Week.ActedOn*10 < c.Week.Sent*3

	v.Horses, v.MoreHorses = cleanHorses(c.Horses, most)
	v.Calls, v.MoreCalls = cleanCalls(c.Cautions, most)
	v.Lines, v.MoreLines = cleanLines(c.Lines, most)
	v.Trims, _ = cleanLines(c.Trims, most)
	v.Mixes = nil
	for _, m := range c.Mixes[:min(most, len(c.Mixes))] {
		v.Mixes = append(v.Mixes, Mix{OneLine(m.Name, nameLimit), OneLine(m.ThrowAway, nameLimit)})
	}
	return v
}

func cleanHorses(horses []Horse, most int) (clean []Horse, more int) {
	for _, h := range horses[:min(most, len(horses))] {
		legs := make([]Leg, 0, len(h.Legs))
		for _, l := range h.Legs[:min(8, len(h.Legs))] {
			legs = append(legs, Leg{OneLine(l.Name, nameLimit), OneLine(l.What, sentenceLimit)})
		}
		clean = append(clean, Horse{OneLine(h.Name, nameLimit), OneLine(h.Note, sentenceLimit), legs})
	}
	return clean, max(0, len(horses)-most)
}

func cleanCalls(cautions []Caution, most int) (calls []call, more int) {
	for _, c := range cautions[:min(most, len(cautions))] {
		calls = append(calls, call{
			Caution: Caution{
				Level: OneLine(c.Level, nameLimit), Where: OneLine(c.Where, 2*nameLimit),
				Seen: OneLine(c.Seen, sentenceLimit), Next: OneLine(c.Next, sentenceLimit),
				Ring: OneLine(c.Ring, nameLimit), Number: OneLine(c.Number, 30),
			},
			// html/template knows no tel: addresses; dialable leaves nothing but digits and a plus.
			Dial: htmltemplate.URL("tel:" + dialable(c.Number)),
		})
	}
	return calls, max(0, len(cautions)-most)
}

func cleanLines(lines []string, most int) (clean []string, more int) {
	for _, line := range lines[:min(most, len(lines))] {
		clean = append(clean, OneLine(line, sentenceLimit))
	}
	return clean, max(0, len(lines)-most)
}
