package notify

import (
	htmltemplate "html/template"
)

// size bounds what a view holds: entries of each list, and characters of what people typed.
type size struct{ most, name, sentence int }

// sizes are tried in turn until a mail is small enough. The last ones are for yards whose every name is
// a page of emoji.
var sizes = [...]size{{60, 60, 400}, {30, 60, 400}, {15, 60, 400}, {6, 30, 80}, {2, 30, 80}, {1, 30, 60}}

// view is what the templates see: Content made harmless and cut to size.
type view struct {
	Content
	Subject    string
	MoreHorses int // horses left out
	Calls      []call
	MoreCalls  int
	MoreLines  int
	MoreMixes  int
	Lookable   bool // the round is listed
	Diagnosis  string
	Fewer      bool // so few reminders were acted on that fewer may serve better
}

// call is a caution with its number as a phone can dial it.
type call struct {
	Caution
	Dial htmltemplate.URL
}

// viewOf makes a view of the given size.
func viewOf(c Content, z size) view {
	v := view{Content: c, Diagnosis: NotADiagnosis}
	v.Yard, v.Round = OneLine(c.Yard, z.name), OneLine(c.Round, z.name)
	v.Due, v.UseBy = OneLine(c.Due, z.name), OneLine(c.UseBy, z.name)
	v.Asked, v.Title = OneLine(c.Asked, 2*z.name), OneLine(c.Title, z.name)
	v.Link, v.OnIt, v.Later, v.Stop = WebLink(c.Link), WebLink(c.OnIt), WebLink(c.Later), WebLink(c.Stop)
	v.Week.Days = OneLine(c.Week.Days, z.name)
	v.Lookable = c.Kind == RoundDue || c.Kind == Nudge || c.Kind == SecondPerson
	v.Fewer = c.Week.ActedOn*10 < c.Week.Sent*3

	v.Horses, v.MoreHorses = cleanHorses(c.Horses, z)
	v.Calls, v.MoreCalls = cleanCalls(c.Cautions, z)
	v.Lines, v.MoreLines = cleanLines(c.Lines, z)
	v.Mixes, v.MoreMixes = nil, max(0, len(c.Mixes)-z.most)
	for _, m := range c.Mixes[:min(z.most, len(c.Mixes))] {
		v.Mixes = append(v.Mixes, Mix{Name: OneLine(m.Name, z.name), ThrowAway: OneLine(m.ThrowAway, z.name)})
	}
	return v
}

func cleanHorses(horses []Horse, z size) (clean []Horse, more int) {
	for _, h := range horses[:min(z.most, len(horses))] {
		legs := make([]Leg, 0, 8) // four legs, four feet
		for _, l := range h.Legs[:min(cap(legs), len(h.Legs))] {
			legs = append(legs, Leg{Name: OneLine(l.Name, z.name), What: OneLine(l.What, z.sentence)})
		}
		clean = append(clean, Horse{Name: OneLine(h.Name, z.name), Note: OneLine(h.Note, z.sentence), Legs: legs})
	}
	return clean, max(0, len(horses)-z.most)
}

func cleanCalls(cautions []Caution, z size) (calls []call, more int) {
	for _, c := range cautions[:min(z.most, len(cautions))] {
		dial := ""
		if number := dialable(c.Number); number != "" {
			dial = "tel:" + number
		}
		calls = append(calls, call{
			Caution: Caution{
				Level: OneLine(c.Level, z.name), Where: OneLine(c.Where, 2*z.name),
				Seen: OneLine(c.Seen, z.sentence), Next: OneLine(c.Next, z.sentence),
				Ring: OneLine(c.Ring, z.name), Number: OneLine(c.Number, 30),
			},
			// html/template would refuse a tel: address; dialable leaves nothing but digits and a plus.
			Dial: htmltemplate.URL(dial),
		})
	}
	return calls, max(0, len(cautions)-z.most)
}

func cleanLines(lines []string, z size) (clean []string, more int) {
	for _, line := range lines[:min(z.most, len(lines))] {
		clean = append(clean, OneLine(line, z.sentence))
	}
	return clean, max(0, len(lines)-z.most)
}
