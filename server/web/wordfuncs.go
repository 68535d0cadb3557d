package web

import (
	"html"
	"html/template"
	"strings"
	"time"

	"leground/server/web/draw"
	"leground/tracker"
	"leground/tracker/cautions"
)

// wordFuncs are the words and drawings that templates ask for. Each gives the one name that a noun has.
func wordFuncs() template.FuncMap {
	return template.FuncMap{
		"legName":       tracker.LegName,
		"siteName":      tracker.SiteName,
		"regionName":    tracker.RegionName,
		"aspectName":    tracker.AspectName,
		"levelName":     tracker.LevelName,
		"signName":      tracker.SignName,
		"signStep":      tracker.SignStep,
		"dangerName":    tracker.DangerName,
		"flagName":      tracker.FlagName,
		"careName":      tracker.CareName,
		"eventName":     tracker.EventName,
		"sizeName":      tracker.SizeAnswerName,
		"bedName":       tracker.BedName,
		"roundState":    tracker.RoundStateName,
		"placeName":     tracker.PlaceName,
		"day":           tracker.DayName,
		"time":          tracker.TimeName,
		"clock":         clockName,
		"iso":           func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
		"mark":          draw.Mark,
		"labelClass":    draw.LabelClass,
		"notADiagnosis": func() string { return cautions.NotADiagnosis },
		"squareTodo":    func() (template.HTML, error) { return draw.Square(draw.ToDo) },
		"squareSaved":   func() (template.HTML, error) { return draw.Square(draw.SavedHere) },
		"squareSent":    func() (template.HTML, error) { return draw.Square(draw.Sent) },
		"squareSkipped": func() (template.HTML, error) { return draw.Square(draw.NotLookedAt) },
		"squareLook":    func() (template.HTML, error) { return draw.Square(draw.NeedsALook) },
		"tel":           telephone,
		"described":     described,
	}
}

// described ties a field to its hints and, when there is one, to what is wrong with it.
func described(problem *tracker.FieldProblem, hints ...string) template.HTMLAttr {
	ids, wrong := hints, ""
	if problem != nil {
		ids, wrong = append([]string{"wrong-" + problem.Field}, hints...), `aria-invalid="true" `
	}
	if len(ids) == 0 {
		return ""
	}
	return template.HTMLAttr(wrong + `aria-describedby="` + html.EscapeString(strings.Join(ids, " ")) + `"`)
}

// clockName writes the time of day of an instant in a zone: "07:40".
func clockName(t time.Time, zone *time.Location) string { return t.In(zone).Format("15:04") }

// telephone keeps the digits of a number for a link that rings it.
func telephone(number string) template.URL {
	digits := make([]byte, 0, len(number))
	for i := range len(number) {
		if c := number[i]; c >= '0' && c <= '9' || c == '+' && len(digits) == 0 {
			digits = append(digits, c)
		}
	}
	return template.URL("tel:" + string(digits)) // digits only
}
