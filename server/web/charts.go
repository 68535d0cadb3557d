package web

import (
	"html/template"
	"math"
	"strconv"
	"strings"

	"leground/server/web/draw"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
)

// SVG draws the chart; ids are those of its headline and summary.
func (c ChartPart) SVG(headline, summary string) template.HTML {
	c.Panel.LabelledBy = headline + " " + summary
	return draw.Chart(c.Panel)
}

// ellipseCM2 gives the area of a size, as an oval.
func ellipseCM2(s tracker.Size) float64 {
	return healing.EllipseAreaCM2(float64(s.LengthMM), float64(s.WidthMM))
}

// areaText writes an area: to 0.1 cm² under 10, whole at or above.
func areaText(cm2 float64, mark tracker.DecimalMark) string {
	places := 1
	if math.Round(cm2*10) >= 100 {
		places = 0
	}
	return tracker.FormatFloat(cm2, places, mark) + "\u00a0cm²"
}

// areaWords writes a look's area with its give or take; nothing when it has no size.
func areaWords(c tracker.Check, yard tracker.Yard) string {
	switch {
	case c.Size.Answer == tracker.ClosedOver:
		return areaText(0, yard.Mark)
	case !c.Size.Answer.HasLengths():
		return ""
	}
	area := ellipseCM2(c.Size)
	return areaText(area, yard.Mark) + ", give or take " + areaText(giveOrTake(c.Size, yard), yard.Mark)
}

func giveOrTake(s tracker.Size, yard tracker.Yard) float64 {
	return healing.GiveOrTakeCM2(float64(s.LengthMM), float64(s.WidthMM), yard.SpreadMM)
}

// scoreWords writes a patch's active score: "7 of 18, 6 signs judged".
func scoreWords(c tracker.Check) string {
	score, judged := 0, 0
	for _, sign := range tracker.ActiveSigns() {
		if level, ok := c.Signs[sign]; ok {
			score, judged = score+level, judged+1
		}
	}
	if judged == 0 {
		return ""
	}
	return strconv.Itoa(score) + " of " + strconv.Itoa(3*judged) + ", " + strconv.Itoa(judged) + " signs judged"
}

// panelsOf gives the chart of each site of a horse's page: of a wound its area, of a patch its active
// score. Panels of one quantity share their scale.
func panelsOf(view care.HorseView) []ChartPart {
	parts := make([]ChartPart, len(view.Sites))
	var areas []draw.Panel
	first := firstDay(view)
	for i, site := range view.Sites {
		parts[i] = chartOf(view, site)
		parts[i].Panel.First = first
		if site.Site.Kind == tracker.Wound {
			areas = append(areas, parts[i].Panel)
		}
	}
	top := draw.CommonTop(areas...)
	for i, site := range view.Sites {
		parts[i].Panel.Top = top
		if site.Site.Kind == tracker.Patch {
			parts[i].Panel.Top = draw.ScoreTop
		}
		parts[i].Summary = parts[i].Panel.Summary()
	}
	return parts
}

// firstDay is where the charts of a page begin: with the page's span, or with the horse's first site.
func firstDay(view care.HorseView) tracker.Date {
	first := view.To
	for _, site := range view.Sites {
		first = min(first, tracker.DateOf(site.Site.OpenedAt.In(view.Zone)))
	}
	return max(first, view.From)
}

func chartOf(view care.HorseView, in care.SiteHistory) ChartPart {
	panel := draw.Panel{Decimal: view.Yard.Mark, Last: view.To, Quantity: "Area", Unit: "cm²"}
	if in.Site.Kind == tracker.Patch {
		panel.Quantity, panel.Unit = "Active score", ""
	}
	if in.First != nil {
		panel.DayOne = in.First.Day
		if in.Site.Kind == tracker.Wound {
			panel.Baseline = ellipseCM2(in.First.Size)
		}
	}
	seen := map[tracker.Date]bool{}
	for _, c := range in.Current {
		if c.Outcome != tracker.Looked {
			continue
		}
		seen[c.Day] = true
		if point, ok := pointOf(in.Site.Kind, c, view.Yard); ok {
			panel.Points = append(panel.Points, point)
		} else if in.Site.Kind == tracker.Wound && c.Size.Answer != tracker.NotDue {
			panel.Unmeasured = append(panel.Unmeasured, c.Day)
		}
	}
	opened := tracker.DateOf(in.Site.OpenedAt.In(view.Zone))
	for day := max(view.From, opened); day <= view.To; day++ {
		if !seen[day] && (in.Site.ClosedOn == 0 || day <= in.Site.ClosedOn) {
			panel.Missed = append(panel.Missed, day)
		}
	}
	part := ChartPart{Panel: panel}
	part.addEvents(in.Events)
	return part
}

func pointOf(kind tracker.SiteKind, c tracker.Check, yard tracker.Yard) (draw.Point, bool) {
	if kind == tracker.Patch {
		score, judged := 0, 0
		for _, sign := range tracker.ActiveSigns() {
			if level, ok := c.Signs[sign]; ok {
				score, judged = score+level, judged+1
			}
		}
		return draw.Point{Day: c.Day, Value: float64(score), Partial: judged < len(tracker.ActiveSigns())}, judged > 0
	}
	if c.Size.Answer == tracker.ClosedOver {
		return draw.Point{Day: c.Day}, true
	}
	area := ellipseCM2(c.Size)
	give := giveOrTake(c.Size, yard)
	return draw.Point{Day: c.Day, Value: area, Low: max(0, area-give), High: area + give}, c.Size.Answer.HasLengths()
}

// addEvents marks changes of treatment along the chart, and flags the rest.
func (p *ChartPart) addEvents(events []tracker.Event) {
	flags := map[tracker.EventKind]string{tracker.VetVisit: "V", tracker.FarrierVisit: "F", tracker.Debridement: "T", tracker.Clipping: "C", tracker.CrustsRemoved: "S", tracker.NewInjury: "N"}
	for _, e := range events {
		if e.Kind == tracker.TreatmentChange && len(p.Panel.Changes) < len(treatmentLetters) {
			letter := treatmentLetters[len(p.Panel.Changes)]
			words := strings.TrimRight(e.Note, ". ") // it stands inside sentences
			if words == "" {
				words = "treatment changed"
			}
			p.Panel.Changes = append(p.Panel.Changes, draw.Change{Day: e.Day, Letter: letter, Words: words})
			p.Phases = append(p.Phases, letter+": "+words+", from "+tracker.DayName(e.Day)+".")
		} else if letter, ok := flags[e.Kind]; ok {
			p.Panel.Events = append(p.Panel.Events, draw.Event{Day: e.Day, Letter: letter})
			p.Phases = append(p.Phases, letter+": "+tracker.EventName(e.Kind)+", "+tracker.DayName(e.Day)+".")
		}
	}
}
