package care

import (
	"fmt"
	"slices"

	"leground/tracker"
)

// Problems lists the answers that cannot be right whatever the yard holds.
func (in Entry) Problems() tracker.Problems {
	var p tracker.Problems
	c := in.Check
	checkRecord(&p, c.ID)
	checkText(&p, "note", c.Note, 2000)
	checkText(&p, "skip", c.Skip, 200)
	if c.Outcome == tracker.Skipped {
		if c.Skip == "" {
			p.Add("skip", "Say why it was not looked at, like: would not stand.")
		}
		return p
	}
	checkSize(&p, c)
	for sign, level := range c.Signs {
		if !slices.Contains(sign.Levels(), level) {
			p.Add(string(sign), fmt.Sprintf("%d is not one of the choices for this sign.", level))
		}
	}
	checkVitals(&p, c.Vitals)
	if len(p) == 0 && c.Subject == tracker.OfHorse && c.Vitals == (tracker.Vitals{}) && len(c.Flags) == 0 && c.Note == "" {
		p.Add("whole", "Nothing is filled in. Write down what you took or saw of the horse.")
	}
	return p
}

func checkSize(p *tracker.Problems, c tracker.Check) {
	size := c.Size
	if c.Subject == tracker.OfSite && size.Answer == 0 {
		p.Add("size", "Enter the size, or say why there is none, like: could not measure.")
	}
	if size.Answer == tracker.ClosedOver && c.Signs[tracker.Exudate] > 0 {
		p.Add("size", "Closed over means that no open skin is left, but something comes out of it. Put one of the two right.")
	}
	if size.DepthMM < 0 || size.DepthMM > 300 {
		p.Add("depth", "The depth must be a whole number from 1 to 300 mm, like 5.")
	}
	if size.BedMM < -100 || size.BedMM > 100 {
		p.Add("bed_above", "How far the bed stands above or lies below the skin must be from 1 to 100 mm, like 3.")
	}
	if !size.Answer.HasLengths() {
		return
	}
	was := len(*p)
	for _, f := range []struct {
		field, name string
		value       int
	}{{"length", "Longest way", size.LengthMM}, {"width", "Across that", size.WidthMM}} {
		if f.value < 1 || f.value > tracker.MaxLengthMM {
			p.Add(f.field, fmt.Sprintf("%s must be a whole number from 1 to %d, like 42.", f.name, tracker.MaxLengthMM))
		}
	}
	if len(*p) > was {
		return // what follows from them would be said of nothing
	}
	if size.WidthMM > size.LengthMM {
		p.Add("width", "Across that must not be more than the longest way. Change the two round?")
	}
	if size.AreaMM2 < 0 || size.AreaMM2 > size.LengthMM*size.WidthMM {
		p.Add("area", "A traced area cannot be more than the longest way times the width across it. Is a decimal mark missing?")
	}
}

func checkVitals(p *tracker.Problems, v tracker.Vitals) {
	if t := v.TemperatureTenthsC; t != 0 && (t < 340 || t > 430) {
		p.Add("temperature", "The temperature must be from 34 to 43 degrees Celsius (93 to 110 Fahrenheit), like 37.8.")
	}
	if v.PulsePerMinute < 0 || v.PulsePerMinute > 200 {
		p.Add("pulse", "The pulse must be from 1 to 200 beats a minute, like 36.")
	}
	if v.BreathsPerMinute < 0 || v.BreathsPerMinute > 150 {
		p.Add("breaths", "Breaths must be from 1 to 150 a minute, like 12.")
	}
	if v.RefillTenthsSecond < 0 || v.RefillTenthsSecond > 150 {
		p.Add("refill", "The time until the gums are pink again must be from 0.1 to 15 seconds, like 1.5.")
	}
	if v.RestedMinutes < 0 || v.RestedMinutes > 24*60 {
		p.Add("rested", "The time at rest must be from 1 minute to a day (1\u202f440 minutes), like 30.")
	}
	if v.WeightKG != 0 && (v.WeightKG < 20 || v.WeightKG > 1500) {
		p.Add("weight", "The weight must be from 20 to 1\u202f500 kg, like 740.")
	}
	if v.ConditionHalves != 0 && (v.ConditionHalves < 2 || v.ConditionHalves > 18) {
		p.Add("condition", "The condition score must be from 1 to 9 in half points, like 3.5.")
	}
	for _, leg := range tracker.Legs() {
		if mm := v.GirthMM[leg-1]; mm != 0 && (mm < 50 || mm > 900) {
			p.Add("girth."+leg.String(), fmt.Sprintf("How thick %s is round must be from 50 to 900 mm, like 290.", leg))
		}
	}
}
