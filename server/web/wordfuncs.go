package web

import (
	"html"
	"html/template"
	"strings"
	"time"

	"leground/server/web/draw"
	"leground/tracker"
	"leground/tracker/care"
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
		"capital":       tracker.Capital,
		"day":           tracker.DayName,
		"days":          tracker.DaysName,
		"fullDay":       fullDay,
		"time":          tracker.TimeName,
		"useEnd":        tracker.EndName,
		"clock":         clockName,
		"device":        deviceName,
		"iso":           func(t time.Time) string { return t.UTC().Format(time.RFC3339) },
		"mark":          draw.Mark,
		"labelClass":    draw.LabelClass,
		"notADiagnosis": func() string { return cautions.NotADiagnosis },
		"squareTodo":    func() (template.HTML, error) { return draw.Square(draw.ToDo) },
		"squareSaved":   func() (template.HTML, error) { return draw.Square(draw.SavedHere) },
		"squareSent":    func() (template.HTML, error) { return draw.Square(draw.Sent) },
		"squareSkipped": func() (template.HTML, error) { return draw.Square(draw.NotLookedAt) },
		"squareLook":    func() (template.HTML, error) { return draw.Square(draw.NeedsALook) },
		"squareOld":     func() template.HTML { return draw.Dot(false) },
		"tel":           telephone,
		"padKeys":       padKeys,
		"vitals":        vitalsWords,
		"neg":           func(n int) int { return -n },
		"clockOff":      clockOff,
		"described":     described,
		"newRecord":     care.NewRecord,
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

// vitalsWords says in a line what was taken of a whole horse; nothing for another look.
func vitalsWords(v tracker.Vitals, b Base) string {
	said := tracker.VitalsWords(v, b.Words, b.Mark)
	if len(said) == 0 {
		return ""
	}
	return strings.Join(said, ". ") + "."
}

// padKeys are the keys of the number pad. There is no decimal key: sizes are whole millimetres.
func padKeys() []string {
	return []string{"1", "2", "3", "4", "5", "6", "7", "8", "9", "Clear", "0", "Delete"}
}

// clockOff says how far a phone's clock was off: "3 hours 5 minutes ahead".
func clockOff(off time.Duration) string {
	way := "ahead"
	if off < 0 {
		way = "behind"
	}
	minutes := int(off.Abs().Round(time.Minute) / time.Minute)
	parts := []string{}
	if hours := minutes / 60; hours > 0 {
		parts = append(parts, tracker.Count(hours, "hour"))
	}
	if minutes %= 60; minutes > 0 || len(parts) == 0 {
		parts = append(parts, tracker.Count(minutes, "minute"))
	}
	return strings.Join(parts, " ") + " " + way
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
