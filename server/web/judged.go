package web

import (
	"fmt"
	"math"
	"strings"

	"leground/server/web/draw"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
)

// Judged is a judgement in words: every page that shows a label shows these with it.
type Judged struct {
	Label  string // empty: not judged yet
	AsOf   string // "as of Wed 25 Mar" when the last look is some days past
	Reason string
	Lines  []string // the rate with its interval, and the smallest that could be shown; or the scores
	Prompt string   // to measure again; neither a label nor a caution
	Extras string   // other figures of the same days, for who knows them
}

func judgedWords(j *tracker.Judgement, b Base) Judged {
	if j == nil {
		return Judged{}
	}
	mark := b.Mark
	out := Judged{Label: j.Label, AsOf: healing.AsOf(j.Day, b.today()), Reason: j.Reason}
	if j.HasRate {
		out.Lines = append(out.Lines, rateLine(*j, mark))
		if j.Smallest > 0 {
			out.Lines = append(out.Lines, "The smallest rate these measurements could show is "+perDay(j.Smallest, mark)+".")
		}
		if j.ClosesFrom != 0 {
			out.Lines = append(out.Lines, fmt.Sprintf("If it goes on so it may close between %s and %s. Late wounds often slow down.", fullDay(j.ClosesFrom), fullDay(j.ClosesTo)))
		}
		out.Extras = fmt.Sprintf("Edge advance by Gilman's formula, first day used to last: %s.", perDay(j.Gilman, mark))
		if j.HalfLife > 0 {
			out.Extras += fmt.Sprintf(" At the middle rate the area halves in %s.", tracker.Count(int(math.Round(j.HalfLife)), "day"))
		}
	}
	if j.ActiveJudged > 0 || j.ChronicJudged > 0 {
		out.Lines = append(out.Lines, tracker.Capital(scoresLine(healing.Score{Sum: j.Active, Judged: j.ActiveJudged}, healing.Score{Sum: j.Chronic, Judged: j.ChronicJudged})))
	}
	if j.Remeasure {
		out.Prompt = "Possible widening, measure again today."
	}
	return out
}

// Judged is the newest judgement of the card's site in words.
func (f SiteForm) Judged() Judged { return judgedWords(f.Card.Judgement, f.Base) }

// AsOf is "as of Wed 25 Mar" when the last look at the card's site is some days past.
func (f SiteForm) AsOf() string {
	if f.Card.Judgement == nil {
		return ""
	}
	return healing.AsOf(f.Card.Judgement.Day, f.Base.today())
}

// rateLine gives the rate with its exact interval, and beside it the wider one where the label rests on that.
func rateLine(j tracker.Judgement, mark tracker.DecimalMark) string {
	line := fmt.Sprintf("Closing rate %s, interval %s to %s, from %s over %s.", perDay(j.Rate, mark), rateText(j.Low, mark), rateText(j.High, mark),
		tracker.Count(j.DaysUsed, "measured day"), tracker.Count(j.SpanDays, "day"))
	if j.LabelLow != j.LabelHigh && (j.LabelLow != j.Low || j.LabelHigh != j.High) {
		line += fmt.Sprintf(" The label rests on a wider one, %s to %s.", rateText(j.LabelLow, mark), rateText(j.LabelHigh, mark))
	}
	if j.Low < 0 {
		line += " Below 0 it widens."
	}
	return line
}

// rateText writes a rate to 0.01 mm a day, with a real minus.
func rateText(mm float64, mark tracker.DecimalMark) string {
	return strings.Replace(tracker.FormatFloat(mm, 2, mark), "-", "\u2212", 1)
}

func perDay(mm float64, mark tracker.DecimalMark) string {
	return rateText(mm, mark) + "\u00a0mm a day"
}

// scoresLine keeps active and chronic scores apart: thick skin that stays is not "no improvement".
func scoresLine(active, chronic healing.Score) string {
	var parts []string
	for _, p := range []struct {
		name  string
		score healing.Score
	}{{"active signs", active}, {"chronic signs, kept apart,", chronic}} {
		if p.score.Judged > 0 {
			parts = append(parts, fmt.Sprintf("%s %d of %d", p.name, p.score.Sum, 3*p.score.Judged))
		}
	}
	return strings.Join(parts, "; ") + "."
}

// pictureLines say how the sites of a horse, or of one of its legs, go together.
func pictureLines(p healing.Picture, sites []care.SiteHistory) []string {
	tags := func(ids []tracker.SiteID) string {
		var out []string
		for _, s := range sites {
			for _, id := range ids {
				if s.Site.ID == id {
					out = append(out, siteTag(s.Site))
				}
			}
		}
		return tracker.List(out)
	}
	var lines []string
	if p.Together {
		lines = append(lines, fmt.Sprintf("%s get worse together. That says more than each alone.", tags(p.Worse)))
	}
	if len(p.New) > 0 {
		lines = append(lines, "New within a week, on a leg under care: "+tags(p.New)+".")
	}
	if len(p.Reopened) > 0 {
		lines = append(lines, "Opened again: "+tags(p.Reopened)+".")
	}
	if p.AllClosed {
		lines = append(lines, "Every site is closed over or clear.")
	}
	if p.Active.Judged > 0 {
		lines = append(lines, "All patches together: "+scoresLine(p.Active, p.Chronic))
	}
	return lines
}

// legPicture says how the open sites of one leg go together, when there is more than one.
func legPicture(view care.HorseView, leg tracker.Leg) []string {
	for _, p := range view.Legs {
		if p.Leg == leg && p.Sites > 1 {
			return pictureLines(p, view.Sites)
		}
	}
	return nil
}

// inForce keeps what a vet wrote and an owner accepted.
func inForce(said []tracker.Proposal) []tracker.Proposal {
	var out []tracker.Proposal
	for _, p := range said {
		if p.State == tracker.Accepted {
			out = append(out, p)
		}
	}
	return out
}

// siteTag is a tag whose two halves stay together.
func siteTag(s tracker.Site) string { return strings.ReplaceAll(s.Tag(), " ", "\u00a0") }

// changeWords say in a few words how a site moved over what its label rests on: "6.4 to 8.2 cm² in 8 days".
func changeWords(in care.SiteHistory, chart ChartPart) string {
	j, panel := in.Judgement, chart.Panel
	if j == nil || len(panel.Points) == 0 {
		return ""
	}
	from := j.FirstDay
	if j.HasRate {
		from = j.Day - tracker.Date(j.SpanDays)
	}
	var first, last *draw.Point
	for i := range panel.Points {
		p := &panel.Points[i]
		if p.Day < from || p.Day > j.Day {
			continue
		}
		if first == nil {
			first = p
		}
		last = p
	}
	of := ""
	if in.Site.Kind == tracker.Patch {
		of = " of 18"
	}
	switch {
	case first == nil:
		return ""
	case first.Day == last.Day:
		return panel.Say(last.Value) + of
	}
	return fmt.Sprintf("%s to %s%s in %s", strings.TrimSuffix(panel.Say(first.Value), "\u00a0"+panel.Unit), panel.Say(last.Value), of, tracker.Count(int(last.Day-first.Day), "day"))
}

// headlineOf is the title of a chart in words: "widening, 6.4 to 8.2 cm² in 8 days".
func headlineOf(in care.SiteHistory, chart ChartPart, today tracker.Date) string {
	words := headline(in, today)
	if change := changeWords(in, chart); change != "" && in.Site.Open() {
		words += ", " + change
	}
	return words
}
