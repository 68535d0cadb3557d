package draw

import (
	"fmt"
	"math"
	"strings"

	"leground/tracker"
)

// Summary says in words what a panel shows: how many readings, the first and the last value with the
// turn between them, changes of treatment, and days without a reading. It describes the drawing; what
// that means for the site is the label's business.
func (p Panel) Summary() string {
	points := p.drawable()
	if len(points) == 0 {
		return strings.TrimSpace("No reading yet. " + p.missingWords())
	}
	first, last := points[0], points[len(points)-1]
	var b strings.Builder
	if first.Day == last.Day {
		fmt.Fprintf(&b, "%s on %s.", tracker.Count(len(points), "reading"), shortDay(first.Day))
	} else {
		fmt.Fprintf(&b, "%s from %s to %s.", tracker.Count(len(points), "reading"), shortDay(first.Day), shortDay(last.Day))
	}
	b.WriteString(" " + p.course(points))
	firstDay, lastDay := p.ends()
	for _, change := range p.Changes {
		if firstDay <= change.Day && change.Day <= lastDay && change.Day != 0 {
			fmt.Fprintf(&b, " %s on %s.", tracker.Capital(strings.TrimSpace(change.Letter+" "+change.Words)), shortDay(change.Day))
		}
	}
	if missing := p.missingWords(); missing != "" {
		b.WriteString(" " + missing)
	}
	return b.String()
}

// course tells the shape: from the first value, by way of a turn if there was one, to the last.
func (p Panel) course(points []Point) string {
	first, last := points[0], points[len(points)-1]
	quantity := tracker.Capital(p.Quantity)
	if len(points) == 1 {
		return fmt.Sprintf("%s was %s.", quantity, p.Say(first.Value))
	}
	turn, found := turning(points)
	if !found {
		if verb := moved(first, last); verb != "" {
			return fmt.Sprintf("%s %s from %s to %s.", quantity, verb, p.bare(first.Value), p.Say(last.Value))
		}
		return fmt.Sprintf("%s was %s at first and %s at last.", quantity, p.bare(first.Value), p.Say(last.Value))
	}
	before, after := "fell", "rose"
	if turn.Value > first.Value {
		before, after = after, before
	}
	return fmt.Sprintf("%s %s from %s to %s by %s, then %s to %s.", quantity, before,
		p.bare(first.Value), p.Say(turn.Value), shortDay(turn.Day), after, p.Say(last.Value))
}

// turning finds the reading that lies furthest beyond both the first and the last, by more than its own
// give or take.
func turning(points []Point) (Point, bool) {
	first, last := points[0], points[len(points)-1]
	low, high := min(first.Value, last.Value), max(first.Value, last.Value)
	var turn Point
	beyond := 0.0
	for _, point := range points[1 : len(points)-1] {
		if out := max(low-point.Value, point.Value-high); out > beyond && out > room(point) {
			turn, beyond = point, out
		}
	}
	return turn, beyond > 0
}

// moved gives the verb for two readings that differ by more than the last one's give or take.
func moved(first, last Point) string {
	switch change := last.Value - first.Value; {
	case math.Abs(change) <= room(last):
		return ""
	case change > 0:
		return "rose"
	default:
		return "fell"
	}
}

// room is how far a reading may lie off without saying anything: half its bar, or two points of a score.
func room(point Point) float64 {
	if point.High > point.Low {
		return (point.High - point.Low) / 2
	}
	return 2
}

// missingWords counts the days without a reading, those nobody looked on apart from those that were
// looked at and could not be measured.
func (p Panel) missingWords() string {
	var words []string
	if n := len(p.days(p.Missed)); n > 0 {
		words = append(words, "No reading on "+tracker.Count(n, "planned day")+".")
	}
	if n := len(p.days(p.Unmeasured)); n > 0 {
		words = append(words, "Could not be measured on "+tracker.Count(n, "day")+".")
	}
	return strings.Join(words, " ")
}
