package web

import (
	"net/url"
	"strconv"

	"leground/tracker"
)

// fillIn gives what writes the fields of a form: a text that is not empty, and a tick.
func fillIn(v url.Values) (set func(name, value string), tick func(name string, on bool)) {
	set = func(name, value string) {
		if value != "" {
			v.Add(name, value)
		}
	}
	tick = func(name string, on bool) {
		if on {
			v.Set(name, "1")
		}
	}
	return set, tick
}

// valuesOf gives the form fields that would record a check as it stands, so that a correction starts
// from what was said.
func valuesOf(c tracker.Check) url.Values {
	v := url.Values{}
	set, tick := fillIn(v)
	scaled := func(name string, n int, parts float64) { // what form.scaled reads
		if n != 0 {
			v.Set(name, strconv.FormatFloat(float64(n)/parts, 'f', -1, 64))
		}
	}
	number := func(name string, n int) { scaled(name, n, 1) }
	set("note", c.Note)
	set("looker", string(c.Looker))
	if c.Size.Answer.HasLengths() {
		number("length", c.Size.LengthMM)
		number("width", c.Size.WidthMM)
		scaled("area", c.Size.AreaMM2, 100)
	} else {
		set("size", c.Size.Answer.String())
	}
	number("depth", c.Size.DepthMM)
	set("bed", c.Bed.String())
	number("bed_above", max(0, c.Size.BedMM))
	number("bed_below", max(0, -c.Size.BedMM))
	tick("scab", c.Scab)
	tick("bandage", c.Bandage)
	tick("hair", c.Hair)
	tick("clipped", c.Clipped)
	tick("sedated", c.Sedated)
	tick("skin_seen", c.SkinSeen)
	for sign, level := range c.Signs {
		v.Set(string(sign), strconv.Itoa(level))
	}
	tick("not_judged", c.Subject == tracker.OfSite && len(c.Signs) == 0)
	for _, d := range c.Dangers {
		v.Add("danger", string(d))
	}
	for _, f := range c.Flags {
		v.Add("flag", string(f))
	}
	for _, act := range c.Care {
		v.Add("care", string(act))
	}
	scaled("temperature", c.Vitals.TemperatureTenthsC, 10)
	number("pulse", c.Vitals.PulsePerMinute)
	number("rested", c.Vitals.RestedMinutes)
	number("breaths", c.Vitals.BreathsPerMinute)
	scaled("refill", c.Vitals.RefillTenthsSecond, 10)
	set("gums", c.Vitals.Gums)
	tick("no_gut_sounds", c.Vitals.NoGutSounds)
	tick("laboured", c.Vitals.LabouredBreathing)
	number("weight", c.Vitals.WeightKG)
	scaled("condition", c.Vitals.ConditionHalves, 2)
	for _, leg := range tracker.Legs() {
		number("girth."+leg.String(), c.Vitals.GirthMM[leg-1])
	}
	return v
}
