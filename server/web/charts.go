package web

import (
	"cmp"
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"strings"
	"time"

	"leground/server/web/draw"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
)

// ChartPart is one chart with its words.
type ChartPart struct {
	Panel   draw.Panel
	Summary string
	Phases  []Phase // what happened along the way
}

// Phase is something that happened, and what was read since where it was a change of treatment.
type Phase struct{ Words, Since string }

// sharedPhases say once what happened along several charts, with the names of those that it is not all of.
func sharedPhases(parts []ChartPart, names []string) []string {
	var order []string
	of := map[string][]string{}
	for i, part := range parts {
		for _, phase := range part.Phases {
			if of[phase.Words] == nil {
				order = append(order, phase.Words)
			}
			of[phase.Words] = append(of[phase.Words], names[i])
		}
	}
	for i, words := range order {
		if len(of[words]) < len(parts) {
			order[i] = tracker.List(of[words]) + ", " + words
		}
	}
	return order
}

// SVG draws the chart; ids are those of its headline and summary.
func (c ChartPart) SVG(headline, summary string) template.HTML {
	c.Panel.LabelledBy = headline + " " + summary
	return draw.Chart(c.Panel)
}

// LogSVG draws it a second time on a log scale, to stand beside the other.
func (c ChartPart) LogSVG(headline, summary string) template.HTML {
	c.Panel.LabelledBy = headline + " " + summary
	return draw.LogChart(c.Panel)
}

// areaOf gives the area of a size in cm²: of its outline where one was traced, else as an oval.
func areaOf(s tracker.Size) float64 {
	return healing.Reading{Method: s.Method, LengthMM: float64(s.LengthMM), WidthMM: float64(s.WidthMM), AreaCM2: float64(s.AreaMM2) / 100}.Area()
}

// areaText writes an area with its unit.
func areaText(cm2 float64, mark tracker.DecimalMark) string {
	return tracker.FormatArea(cm2, mark) + "\u00a0cm²"
}

// areaWords writes a look's area with its give or take; nothing when it has no size.
func areaWords(c tracker.Check, s healing.Settings, mark tracker.DecimalMark) string {
	switch {
	case c.Size.Answer == tracker.ClosedOver:
		return areaText(0, mark)
	case !c.Size.Answer.HasLengths():
		return ""
	}
	return areaText(areaOf(c.Size), mark) + ", give or take " + areaText(giveOrTake(c, s), mark)
}

// giveOrTake is half the bar of a look with a size: by who measured, and how.
func giveOrTake(c tracker.Check, s healing.Settings) float64 {
	return s.GiveOrTake(healing.Reading{Day: c.Day, Method: max(c.Size.Method, tracker.Ruler), Measurer: string(c.Looker),
		LengthMM: float64(c.Size.LengthMM), WidthMM: float64(c.Size.WidthMM)})
}

// activeScore sums the active signs of a look.
func activeScore(c tracker.Check) (score, judged int) {
	for _, sign := range tracker.ActiveSigns() {
		if level, ok := c.Signs[sign]; ok {
			score, judged = score+level, judged+1
		}
	}
	return score, judged
}

// scoreWords writes a patch's active score: "7 of 18, 6 signs judged".
func scoreWords(c tracker.Check) string {
	score, judged := activeScore(c)
	if judged == 0 {
		return ""
	}
	return strconv.Itoa(score) + " of " + strconv.Itoa(3*judged) + ", " + tracker.Count(judged, "sign") + " judged"
}

// frame is what charts beside each other share.
type frame struct {
	yard     tracker.Yard
	zone     *time.Location
	from, to tracker.Date
	today    tracker.Date // nobody has missed it yet
	own      bool         // each has its own scale
	signs    bool         // with rows of signs
}

func frameOf(view care.HorseView) frame {
	f := frame{yard: view.Yard, zone: view.Zone, from: view.From, to: view.To, today: view.Today}
	f.begin(view.Sites)
	return f
}

// begin lets the charts begin with the span, or with the first of their sites.
func (f *frame) begin(sites []care.SiteHistory) {
	first := f.to
	for _, site := range sites {
		first = min(first, f.opened(site))
	}
	f.from = max(first, f.from)
}

func (f frame) opened(in care.SiteHistory) tracker.Date {
	return tracker.DateOf(in.Site.OpenedAt.In(f.zone))
}

// charts gives the chart of each site: of a wound its area, of a patch its active score. Those of one
// quantity share their scale unless each has its own.
func (f frame) charts(sites []care.SiteHistory) []ChartPart {
	parts := make([]ChartPart, len(sites))
	var areas []draw.Panel
	for i, site := range sites {
		parts[i] = f.chart(site)
		if site.Site.Kind == tracker.Wound {
			areas = append(areas, parts[i].Panel)
		}
	}
	top := draw.CommonTop(areas...)
	for i, site := range sites {
		switch p := &parts[i].Panel; {
		case site.Site.Kind == tracker.Patch:
			p.Top = draw.ScoreTop
		case f.own:
			p.OwnScale = true
		default:
			p.Top = top
		}
	}
	return parts
}

func (f frame) chart(in care.SiteHistory) ChartPart {
	panel := draw.Panel{Decimal: f.yard.Mark, First: f.from, Last: f.to, Quantity: "Area", Unit: "cm²"}
	if in.Site.Kind == tracker.Patch {
		panel.Quantity, panel.Unit = "Active score", ""
	}
	if in.First != nil {
		panel.DayOne = in.First.Day
		if in.Site.Kind == tracker.Wound {
			panel.Baseline = areaOf(in.First.Size)
		}
	}
	seen := map[tracker.Date]bool{}
	for _, c := range in.Current {
		if c.Outcome != tracker.Looked {
			continue
		}
		seen[c.Day] = true
		if point, ok := pointOf(in, c); ok {
			panel.Points = append(panel.Points, point)
		} else if in.Site.Kind == tracker.Wound && c.Size.Answer != tracker.NotDue {
			panel.Unmeasured = append(panel.Unmeasured, c.Day)
		}
	}
	for day := max(f.from, f.opened(in)); day <= f.to; day++ {
		if !seen[day] && day < f.today && (in.Site.ClosedOn == 0 || day <= in.Site.ClosedOn) {
			panel.Missed = append(panel.Missed, day)
		}
	}
	if f.signs {
		panel.Signs = signRows(in)
	}
	part := ChartPart{Panel: panel}
	f.addEvents(&part, in.Events)
	part.Summary = part.Panel.Summary()
	return part
}

// reach gives the extent of a patch as a series of its own; false where it was never measured in the span.
func (f frame) reach(in care.SiteHistory) (ChartPart, bool) {
	panel := draw.Panel{Decimal: f.yard.Mark, First: f.from, Last: f.to, Quantity: "Reach", Unit: "cm²", OwnScale: true}
	if in.First != nil {
		panel.DayOne, panel.Baseline = in.First.Day, areaOf(in.First.Size)
	}
	for _, c := range in.Current {
		if c.Outcome == tracker.Looked && c.Size.Answer.HasLengths() {
			panel.Points = append(panel.Points, sizePoint(in, c))
		}
	}
	part := ChartPart{Panel: panel}
	f.addEvents(&part, in.Events)
	part.Summary = part.Panel.Summary()
	return part, in.Site.Kind == tracker.Patch && len(panel.Points) > 0
}

func pointOf(in care.SiteHistory, c tracker.Check) (draw.Point, bool) {
	switch {
	case in.Site.Kind == tracker.Patch:
		score, judged := activeScore(c)
		return draw.Point{Day: c.Day, Value: float64(score), Partial: judged < len(tracker.ActiveSigns())}, judged > 0
	case c.Size.Answer == tracker.ClosedOver:
		return draw.Point{Day: c.Day}, true
	case c.Size.Answer.HasLengths():
		return sizePoint(in, c), true
	}
	return draw.Point{}, false
}

func sizePoint(in care.SiteHistory, c tracker.Check) draw.Point {
	area, give := areaOf(c.Size), giveOrTake(c, in.Settings)
	return draw.Point{Day: c.Day, Value: area, Low: max(0, area-give), High: area + give, Way: int(c.Size.Method)}
}

// mostSigns is how many rows of signs stand under a chart, so that six charts fit on a sheet of paper.
const mostSigns = 2

// signRows are the signs that stand under a chart: of three, those seen on most days. Their words are short, so
// that they fit beside the squares.
func signRows(in care.SiteHistory) []draw.SignRow {
	rows := []draw.SignRow{{Words: "Wet"}, {Words: "Sore"}, {Words: "Smell"}}
	if in.Site.Kind == tracker.Patch {
		rows[2].Words = "Skin"
	}
	for _, c := range in.Current {
		if c.Outcome != tracker.Looked || len(c.Signs) == 0 {
			continue
		}
		addSign(&rows[0], c, tracker.Exudate)
		addSign(&rows[1], c, tracker.Pain)
		switch {
		case in.Site.Kind == tracker.Patch:
			addSign(&rows[2], c, tracker.SkinBreak)
		case smells(c):
			rows[2].Seen = append(rows[2].Seen, c.Day)
		default:
			rows[2].Clear = append(rows[2].Clear, c.Day)
		}
	}
	for len(rows) > mostSigns {
		least := len(rows) - 1
		for i := least; i >= 0; i-- {
			if len(rows[i].Seen) < len(rows[least].Seen) {
				least = i
			}
		}
		rows = slices.Delete(rows, least, least+1)
	}
	return rows
}

func addSign(row *draw.SignRow, c tracker.Check, sign tracker.Sign) {
	if level, judged := c.Signs[sign]; judged && level > 0 {
		row.Seen = append(row.Seen, c.Day)
	} else if judged {
		row.Clear = append(row.Clear, c.Day)
	}
}

func smells(c tracker.Check) bool {
	return slices.Contains(c.Flags, tracker.Smell) || c.Has(tracker.SmellHeat)
}

// treatmentLetters name the changes of treatment along a chart; eventLetters, the flags under it, are others.
const treatmentLetters = "ABCDEF"

func eventLetter(k tracker.EventKind) string {
	return map[tracker.EventKind]string{tracker.VetVisit: "V", tracker.FarrierVisit: "H", tracker.Debridement: "T", tracker.Clipping: "L",
		tracker.CrustsRemoved: "S", tracker.NewInjury: "N", tracker.Joined: "J", tracker.Reopened: "O"}[k]
}

// addEvents marks changes of treatment along the chart, flags the rest, and says a sentence about each.
func (f frame) addEvents(p *ChartPart, events []tracker.Event) {
	for _, e := range events {
		if e.Day < f.from {
			continue
		}
		if e.Kind == tracker.TreatmentChange && len(p.Panel.Changes) < len(treatmentLetters) {
			letter := treatmentLetters[len(p.Panel.Changes) : len(p.Panel.Changes)+1]
			words := cmp.Or(strings.TrimRight(e.Note, ". "), "treatment changed")
			p.Panel.Changes = append(p.Panel.Changes, draw.Change{Day: e.Day, Letter: letter, Words: words})
		} else if letter := eventLetter(e.Kind); letter != "" {
			p.Panel.Events = append(p.Panel.Events, draw.Event{Day: e.Day, Letter: letter})
			p.Phases = append(p.Phases, Phase{Words: letter + ": " + eventWords(e, f.to) + "."})
		}
	}
	for i, change := range p.Panel.Changes {
		until := f.to + 1
		if i+1 < len(p.Panel.Changes) {
			until = p.Panel.Changes[i+1].Day
		}
		p.Phases = append(p.Phases, Phase{change.Letter + ": " + change.Words + ", from " + tracker.DayName(change.Day) + ".", p.since(change.Day, until)})
	}
}

// eventWords says what happened, or that a visit is noted for a day to come.
func eventWords(e tracker.Event, today tracker.Date) string {
	switch {
	case e.Day > today && e.Kind == tracker.VetVisit:
		return "The vet comes on " + tracker.DayName(e.Day)
	case e.Day > today && e.Kind == tracker.FarrierVisit:
		return "The farrier comes on " + tracker.DayName(e.Day)
	}
	return tracker.EventName(e.Kind) + ", " + tracker.DayName(e.Day)
}

// fewestInPhase is the usual bar for comparing before and after: five readings (Ledford, Lane, Severini,
// 2018, on single-case designs, from memory).
const fewestInPhase = 5

// since says what was read in a phase of treatment. It claims no effect.
func (p *ChartPart) since(from, until tracker.Date) string {
	var in []draw.Point
	for _, point := range p.Panel.Points {
		if point.Day >= from && point.Day < until {
			in = append(in, point)
		}
	}
	if len(in) < fewestInPhase {
		return "Too few readings after the change to compare."
	}
	return fmt.Sprintf("%d readings since, from %s to %s.", len(in), p.Panel.Say(in[0].Value), p.Panel.Say(in[len(in)-1].Value))
}
