package cautions

import (
	"fmt"

	"leground/tracker"
)

// Sources that several rules rest on.
const (
	srcLame     = "Penno, How to assess and treat acute onset non-weight-bearing lameness, AAEP 2012"
	srcBleed    = "Report of an AAEP talk on wounds, 2005"
	srcWound    = "Wound management: when to call the vet (owner page of a lameness practice, undated)"
	srcLacerate = "Lacerations and puncture wounds (owner page of a veterinary practice, undated)"
	srcCellulit = "Cellulitis, EQUUS, March 2016; University of Florida, Equine lymphangitis is nothing to sit on"
)

// danger is what is said about one danger sign.
type danger struct {
	sign  tracker.Danger
	level tracker.Level
	act   string // what to do meanwhile, or what would make it more urgent
	seen  string // in the caution; %s is the leg
	why   string
	src   string
	grade Grade
	onLeg bool // about the whole leg, wherever it is ticked
}

func dangers() []danger {
	const now, today = tracker.RingNow, tracker.RingToday
	return []danger{
		{tracker.NotBearing, now,
			"Do not make the horse walk.",
			"will not put weight on the %s",
			"Published advice treats this as an emergency.", srcLame, Published, true},
		{tracker.Bleeding, now,
			"Keep pressing with a clean pad until they answer.",
			"still bleeding after 10 minutes' pressure",
			"Published advice: ring at once when 10 minutes' pressure does not stop bleeding.", srcBleed, Published, false},
		{tracker.DeepOrObject, now,
			"Leave what is sticking in where it is.",
			"bone, a gaping edge, a puncture or something sticking in",
			"Published advice: ring for bone, gaping edges, punctures and anything sticking in.",
			srcBleed + "; EQUUS, June 2016; " + srcLacerate, Published, false},
		{tracker.StickyFluid, now,
			"Do so even when the hole is tiny.",
			"sticky clear or yellow fluid, like egg white",
			"Published advice: such fluid near a joint or tendon sheath means ring, even from a tiny wound.",
			srcWound + "; " + srcLacerate, Published, false},
		{tracker.HotSwelling, now,
			"Take the temperature while you wait.",
			"hot, painful swelling that is spreading on the %s",
			"Published advice: contact the vet at once for a leg that swells fast, hot and sore.", srcCellulit, Published, true},
		{tracker.LameAtWalk, now,
			"Do not make the horse walk.",
			"newly lame at the walk on the %s",
			"Published advice treats sudden lameness that shows at the walk as an emergency.", srcLame, Published, true},
		{tracker.SmellHeat, today,
			"If the horse is feverish or newly lame, ring now.",
			"bad smell with heat",
			"Published advice: ring for foul discharge with heat or swelling.", srcWound, Published, false},
		{tracker.Maggots, today,
			"If there is fever or a bad smell, ring now.",
			"maggots",
			"Same-day call from memory; not read in a source. Do not just spray them.", "", FromMemory, false},
	}
}

// DangerWords give the level of a danger sign and the sentences that stand beside its tick box and appear
// once it is ticked, with no script and no signal. The label of the box is [tracker.DangerName]. An
// unknown sign gives zeros.
func DangerWords(sign tracker.Danger) (level tracker.Level, act string) {
	for _, d := range dangers() {
		if d.sign == sign {
			return d.level, tracker.LevelName(d.level) + ". " + d.act
		}
	}
	return 0, ""
}

// dangerRules has one rule for each danger sign, of the same name.
func dangerRules() []entry {
	var all []entry
	for _, d := range dangers() {
		when := func(v view, r Rule) []Fired { return d.ticked(v) }
		switch d.sign {
		case tracker.NotBearing:
			when = func(v view, r Rule) []Fired {
				return append(d.ticked(v), walks(v, 5, "will not put weight on the %s")...)
			}
		case tracker.LameAtWalk:
			when = func(v view, r Rule) []Fired { return append(d.ticked(v), walks(v, 4, "lame at the walk on the %s")...) }
		case tracker.SmellHeat:
			when = func(v view, r Rule) []Fired { return append(d.ticked(v), smellsWithHeat(v)...) }
		case tracker.Maggots:
			when = func(v view, r Rule) []Fired { return d.maggots(v, r) }
		}
		rule := Rule{ID: string(d.sign), Level: d.level, Title: tracker.DangerName(d.sign), Why: d.why, Source: d.src, Grade: d.grade,
			Next: d.act, Again: nextDay}
		if d.sign == tracker.Maggots {
			rule.Thresholds = []Threshold{feverAbove()}
		}
		all = append(all, entry{rule, when})
	}
	return all
}

// feverAbove is the temperature from which swelling and maggots are more urgent: 101.5 degrees Fahrenheit.
func feverAbove() Threshold {
	return Threshold{"fever", "a temperature above", 38.6, "°C", 38.6, 38.6}
}

// ticked finds the danger on leg lines, looks at feet and site cards. A closed site counts too: what
// somebody ticked is never left out.
func (d danger) ticked(v view) []Fired {
	var all []Fired
	for _, leg := range v.Legs {
		for _, c := range []tracker.Check{leg.Line, leg.Foot} {
			if c.Has(d.sign) {
				all = append(all, Fired{Leg: leg.Leg, Seen: v.tickedWords(c, d.words(v, leg.Leg))}.from(c))
			}
		}
	}
	for _, s := range v.Sites {
		if !s.Check.Has(d.sign) {
			continue
		}
		fired := s.fired(v.tickedWords(s.Check, d.words(v, s.Site.Leg)))
		if d.onLeg {
			fired.Site = ""
		} else {
			fired.Seen += " " + v.isOn(s)
		}
		all = append(all, fired)
	}
	return all
}

func (d danger) words(v view, leg tracker.Leg) string {
	if d.onLeg {
		return fmt.Sprintf(d.seen, tracker.LegName(leg, v.LegWords))
	}
	return d.seen
}

func (v view) tickedWords(c tracker.Check, what string) string {
	return "Ticked " + v.when(c.At) + ": " + what + "."
}

// walks finds leg lines whose walk was given a grade: the grade means the same as the tick.
func walks(v view, grade int, words string) []Fired {
	var all []Fired
	for _, leg := range v.Legs {
		if leg.Line.Signs[tracker.Walk] != grade {
			continue
		}
		what := fmt.Sprintf(words, tracker.LegName(leg.Leg, v.LegWords))
		fired := Fired{Leg: leg.Leg, Seen: tracker.Capital(what) + ", seen " + v.when(leg.Line.At) + ".", Numbers: map[string]string{"walk grade": fmt.Sprint(grade)}}
		all = append(all, fired.from(leg.Line))
	}
	return all
}

// smellsWithHeat finds a smell that was ticked without heat where heat or plain swelling was noted apart.
func smellsWithHeat(v view) []Fired {
	var all []Fired
	for _, s := range v.Sites {
		if !hasFlag(s.Check, tracker.Smell) {
			continue
		}
		with := ""
		switch {
		case v.leg(s.Site.Leg).Line.Signs[tracker.Heat] > 0:
			with = "heat in the leg"
		case s.Check.Signs[tracker.Swelling] >= 2:
			with = "plain swelling"
		default:
			continue
		}
		all = append(all, s.fired(v.tickedWords(s.Check, "a smell, with "+with)+" "+v.isOn(s)))
	}
	return all
}

// maggots are for today, and for now with a fever or a smell.
func (d danger) maggots(v view, r Rule) []Fired {
	all := d.ticked(v)
	tenths, _, taken := v.temperature()
	for i := range all {
		f := &all[i]
		switch {
		case taken && tenths > inTenths(r.number("fever")):
			f.Level, f.Next = tracker.RingNow, "With a fever this does not wait."
			f.Numbers = map[string]string{"temperature": v.amount(tenths, "°C")}
			f.Seen += " The temperature is " + v.amount(tenths, "°C") + "."
		case v.smells(f.Site, f.Leg):
			f.Level, f.Next = tracker.RingNow, "With a bad smell this does not wait."
			f.Seen += " There is a bad smell as well."
		}
	}
	return all
}

// smells tells whether a smell was ticked on a site, or anywhere on the leg when no site is named.
func (v view) smells(site tracker.SiteID, leg tracker.Leg) bool {
	for _, s := range v.Sites {
		if (s.Site.ID == site || site == "" && s.Site.Leg == leg) &&
			(hasFlag(s.Check, tracker.Smell) || s.Check.Has(tracker.SmellHeat)) {
			return true
		}
	}
	l := v.leg(leg)
	return hasFlag(l.Line, tracker.Smell) || hasFlag(l.Foot, tracker.Smell)
}

func hasFlag(c tracker.Check, flag tracker.Flag) bool {
	for _, have := range c.Flags {
		if have == flag {
			return true
		}
	}
	return false
}
