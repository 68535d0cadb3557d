package notify

import (
	"fmt"
	"leground/tracker"
	"strings"
)

// subjectLimit is the longest subject in characters: as long as RFC 5322 2.1.1 wants a line to be.
const subjectLimit = 78

// headlines gives the subject of a mail and the two lines of a lock screen. A subject says what is due
// before it says where, since phones cut its end.
func headlines(c Content) (subject, title, short string, err error) {
	yard, round := OneLine(c.Yard, 28), tracker.Capital(OneLine(c.Round, 20))
	first := firstCall(c)
	switch c.Kind {
	case RoundDue:
		title = fmt.Sprintf("%s, %s", round, OneLine(c.Due, 20))
		short = roundShort(c)
	case Nudge:
		title = round + " not received yet"
		short = "It was due " + OneLine(c.Due, 20) + ". It may be on a phone without signal."
	case SecondPerson:
		title = "Can you look? " + round + " not received yet"
		short = "It was due " + OneLine(c.Due, 20) + "."
		if c.Asked != "" {
			short += " Asked before: " + OneLine(c.Asked, 60) + "."
		}
	case CautionOpen:
		if len(c.Cautions) == 0 {
			return "", "", "", fmt.Errorf("a caution message without a caution")
		}
		where := OneLine(c.Cautions[0].Where, subjectLimit-len(first)-len(yard)-5)
		return first + ": " + where + ", " + yard, first, cautionShort(c), nil
	case Notice:
		subject, title = OneLine(c.Title, 44)+", "+yard, OneLine(c.Title, 44)
		if c.Brief != "" && !c.Names {
			title = OneLine(c.Brief, 44)
		}
		return subject, title, "Open Leground to read it.", nil
	case Summary:
		title, short = "Reminders that could not be sent in time", tracker.Count(len(c.Lines), "line")+" to read."
	case WeeklyLine:
		title, short = "The week, "+OneLine(c.Week.Days, 26), weekShort(c.Week)
	case TestMessage:
		title, short = "A test message", "Reminders reach you here."
	default:
		return "", "", "", fmt.Errorf("%w: %q", ErrUnknownKind, string(c.Kind))
	}
	subject = title + ", " + yard
	if first != "" {
		subject, title = OneLine(first+". "+subject, subjectLimit), first+". "+title
	}
	return subject, title, short, nil
}

// firstCall gives the level words of the most urgent caution, the first; empty when there is none.
func firstCall(c Content) string {
	if len(c.Cautions) == 0 {
		return ""
	}
	return OneLine(c.Cautions[0].Level, 26)
}

// roundShort says what a round holds, with the horses' names only where they may be seen.
func roundShort(c Content) string {
	if len(c.Horses) == 0 {
		return "Open Leground to see it."
	}
	legs := 0
	for _, h := range c.Horses {
		legs += len(h.Legs)
	}
	if !c.Names && legs == 0 { // nothing is open: every leg is looked at
		return tracker.Count(len(c.Horses), "horse") + " to look at."
	} else if !c.Names {
		return tracker.Count(len(c.Horses), "horse") + ", " + tracker.Count(legs, "leg") + " to look at."
	}
	names := make([]string, 0, 6)
	for _, h := range c.Horses[:min(6, len(c.Horses))] {
		names = append(names, OneLine(h.Name, 24))
	}
	text := strings.Join(names, ", ")
	if more := len(c.Horses) - len(names); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text + "."
}

func cautionShort(c Content) string {
	if !c.Names {
		return "Open Leground to see which horse and whom to ring."
	}
	return OneLine(c.Cautions[0].Where, 60) + ". " + OneLine(c.Cautions[0].Seen, 120)
}

func weekShort(w Week) string {
	return fmt.Sprintf("%s due, %d received.", tracker.Count(w.Rounds, "round"), w.Received)
}
