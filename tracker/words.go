package tracker

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"
)

// The English words for the nouns, in one place. Pages add sentences of their own in their templates,
// cautions in their rules; everything with a name takes it from here.

// LegName gives the leg in words: "left fore", or "near fore" where a yard says so.
func LegName(l Leg, w LegWords) string {
	side, end := "right", "hind"
	switch {
	case l.Left() && w == NearOff:
		side = "near"
	case l.Left():
		side = "left"
	case w == NearOff:
		side = "off"
	}
	if l.Fore() {
		end = "fore"
	}
	return side + " " + end
}

// RegionName gives the part of this leg in words.
func RegionName(l Leg, r Region) string {
	joint := "hock"
	if l.Fore() {
		joint = "knee"
	}
	switch r {
	case AboveJoint:
		return "above the " + joint
	case Joint:
		return joint
	case PointOfHock:
		return "point of hock"
	case UpperCannon:
		return "upper cannon"
	case LowerCannon:
		return "lower cannon"
	case PasternFold:
		return "pastern fold"
	case HeelBulb:
		return "heel bulb"
	case Coronet:
		return "coronet band"
	case Wall:
		return "hoof wall"
	case WhiteLine:
		return "white line"
	case CentralSulcus:
		return "middle cleft of the frog"
	case CollateralSulcus:
		return "side cleft of the frog"
	}
	return r.String()
}

// AspectName gives the face in words: palmar and plantar are both "back".
func AspectName(a Aspect) string {
	switch a {
	case Dorsal:
		return "front"
	case Lateral:
		return "outside"
	case Medial:
		return "inside"
	case Palmar, Plantar:
		return "back"
	case AllRound:
		return "all round"
	case Ground:
		return "underneath"
	}
	return ""
}

// AspectTerm gives the anatomical term, for the vet.
func AspectTerm(a Aspect) string { return a.String() }

// SiteName gives where a site is in words: "right hind, pastern, back".
func SiteName(s Site, w LegWords) string {
	return LegName(s.Leg, w) + ", " + RegionName(s.Leg, s.Region) + ", " + AspectName(s.Aspect)
}

// LevelName gives the words that open a caution.
func LevelName(l Level) string {
	switch l {
	case RingNow:
		return "Ring the vet now"
	case RingToday:
		return "Ring the vet today"
	case NextVisit:
		return "Tell the vet at the next visit"
	}
	return ""
}

var signNames = map[Sign]string{
	Crust: "Scale or crust", Redness: "Redness", SkinBreak: "Broken skin", Exudate: "Wet or runny", Swelling: "Swelling of the site",
	Pain: "Sore to touch", HairLoss: "Hair loss", Thickening: "Thick skin or folds", Nodules: "Lumps",
	Filling: "Filling", Heat: "Heat", Pulse: "Digital pulse", Walk: "At the walk", Thrush: "Thrush",
}

// SignName gives a sign in words.
func SignName(s Sign) string { return signNames[s] }

var signSteps = map[Sign][]string{
	Crust:      {"clean", "fine dry flakes", "crusts, some stuck", "thick crust over most of it"},
	Redness:    {"none", "faint", "clear", "angry, edge spreading"},
	SkinBreak:  {"whole", "small crack or graze", "raw patch or several cracks", "ulcer or deep crack"},
	Exudate:    {"dry", "damp or tacky", "clear or yellow, mats the hair", "pus or blood, runs"},
	Swelling:   {"none", "just felt", "plain to see", "tight, past the site"},
	Pain:       {"takes no notice", "flinches", "pulls the leg away", "will not be touched"},
	HairLoss:   {"none", "thin", "bald patch", "bald over most of it"},
	Thickening: {"supple", "slightly thick", "one firm fold", "two or more folds"},
	Nodules:    {"none", "one small", "several", "large or in clusters"},
	Filling:    {"none", "fetlock", "to mid cannon", "to the knee or hock, or above"},
	Heat:       {"no", "yes"},
	Pulse:      {"not found", "faint", "easy to find", "bounding"},
	Thrush:     {"firm, dry, no smell", "smell or black stain", "soft, or the pick goes deeper", "pain, blood or split heels"},
}

// SignStep gives what a level of a sign looks like, in a few words.
func SignStep(s Sign, level int) string {
	if s == Walk {
		switch level {
		case 0:
			return "sound"
		case 2:
			return "unsure, or only at the trot"
		case 4:
			return "lame"
		case 5:
			return "will not bear weight"
		}
		return ""
	}
	if steps := signSteps[s]; level >= 0 && level < len(steps) {
		return steps[level]
	}
	return ""
}

var dangerNames = map[Danger]string{
	NotBearing: "Will not put weight on the leg", LameAtWalk: "Newly lame at the walk", Bleeding: "Still bleeding after ten minutes' pressure",
	StickyFluid: "Sticky clear or yellow fluid, like egg white", HotSwelling: "Hot, sore swelling that spreads", SmellHeat: "Bad smell with heat", Maggots: "Maggots",
	DeepOrObject: "Bone, gaping, a puncture or something in it",
}

// DangerName gives a danger sign as it stands beside its tick.
func DangerName(d Danger) string { return dangerNames[d] }

var flagNames = map[Flag]string{
	Smell: "Smell, no heat", Itch: "Itchy: rubbing or stamping", FillsAtRest: "Fills at rest, clears with walking", BandageRub: "Bandage slipped or tight, with swelling or a new sore",
	FrogGrowth: "Growing frog tissue", WhiteSkin: "White skin sore on legs and nose",
	Weak: "Weak, wobbly, down or seizing", FootSore: "Leans back, shifts from foot to foot or will not walk on",
	Refeeding: "Being fed up after starvation", FeedKnown: "What it was fed before is known",
}

// FlagName gives a flag in words.
func FlagName(f Flag) string { return flagNames[f] }

var careNames = map[CareAct]string{
	Washed: "Washed", Dried: "Dried", Applied: "Cream or barrier on", Bandaged: "Bandaged", AirHour: "Bandage off for an hour",
}

// CareName gives an act of care in words.
func CareName(c CareAct) string { return careNames[c] }

var stepNames = map[StepKind]string{
	StepWash: "Wash", StepDry: "Dry", StepApply: "Put something on", StepBandage: "Bandage", StepAir: "Bandage off for an hour",
	StepMeasure: "Measure the size", StepGive: "Give a medicine by weight", StepWalk: "Walk", StepWeigh: "Weigh", StepTrim: "Trim the feet",
}

// StepName gives a step of a plan in words.
func StepName(k StepKind) string { return stepNames[k] }

var eventNames = map[EventKind]string{
	Debridement: "Dead tissue trimmed", Clipping: "Clipped", CrustsRemoved: "Crusts or scab taken off", NewInjury: "New injury", MethodChange: "Measured another way from here on",
	Reopened: "Opened again", TreatmentChange: "Treatment changed", BandageOn: "Bandage on", BandageOff: "Bandage off for good", KindChange: "Kind of site changed",
	Joined: "Joined another site", SoakStarted: "Soak started", VetVisit: "Vet was here", FarrierVisit: "Farrier was here",
}

// EventName gives an event in words.
func EventName(k EventKind) string { return eventNames[k] }

// SizeAnswerName gives the answer about the size in words.
func SizeAnswerName(s SizeAnswer) string {
	switch s {
	case Measured, SameAsLast:
		return "measured"
	case ClosedOver:
		return "closed over"
	case CouldNotMeasure:
		return "could not measure"
	case UnderBandage:
		return "under bandage"
	case HairHides:
		return "hair hides it"
	case NotDue:
		return "size not due"
	}
	return ""
}

// BedName gives the bed level in words.
func BedName(b Bed) string {
	switch b {
	case BedBelow:
		return "below the skin"
	case BedFlush:
		return "level with the skin"
	case BedAbove:
		return "above the skin"
	}
	return ""
}

// RoundStateName gives the state of a round in words.
func RoundStateName(s RoundState) string { return strings.ReplaceAll(s.String(), "-", " ") }

// PlaceName gives where a horse is in words.
func PlaceName(p HorsePlace) string {
	switch p {
	case Here:
		return "in the yard"
	case Away:
		return "away"
	case AtClinic:
		return "at the clinic"
	case Gone:
		return "left the yard"
	}
	return ""
}

// FoodName says in words whether a horse may be eaten one day.
func FoodName(f FoodChain) string {
	switch f {
	case NotForFood:
		return "not for food"
	case MayBeFood:
		return "may be eaten one day"
	}
	return "not known"
}

// TimesADay says how often a day: "once a day", "twice a day", "3 times a day".
func TimesADay(n int) string {
	switch n {
	case 1:
		return "once a day"
	case 2:
		return "twice a day"
	}
	return fmt.Sprintf("%d times a day", n)
}

// DaysName writes days as "Tue 14 May", "Tue 14 May to Thu 16 May", or "from Tue 14 May on" where the last is not known.
func DaysName(from, to Date) string {
	switch to {
	case from:
		return DayName(from)
	case 0:
		return "from " + DayName(from) + " on"
	}
	return DayName(from) + " to " + DayName(to)
}

// DayName writes a day as "Tue 14 May".
func DayName(d Date) string {
	if d == 0 {
		return ""
	}
	return d.Time().Format("Mon 2 Jan")
}

// TimeName writes an instant in a zone as "Tue 14 May, 07:40".
func TimeName(t time.Time, zone *time.Location) string {
	if t.IsZero() {
		return ""
	}
	return t.In(zone).Format("Mon 2 Jan, 15:04")
}

// ClockName writes an instant in a zone as "07:40", and as "07:40 on Fri 15 May" where that is not the day of now.
func ClockName(t, now time.Time, zone *time.Location) string {
	clock, day := t.In(zone).Format("15:04"), DateOf(t.In(zone))
	if day == DateOf(now.In(zone)) {
		return clock
	}
	return clock + " on " + DayName(day)
}

// EndName says in a zone how long something may be used: "throw away after Fri 15 May 2026, 13:00", or, where it ends at
// midnight, "last day of use Thu 31 Dec 2026", since a tired eye reads "Fri 1 Jan, 00:00" as a day more.
func EndName(t time.Time, zone *time.Location) string {
	if day, midnight := EndDay(t, zone); midnight {
		return "last day of use " + day.Time().Format("Mon 2 Jan 2006")
	}
	return "throw away after " + t.In(zone).Format("Mon 2 Jan 2006, 15:04")
}

// EndDay gives the day that ends at an instant in a zone, when one does.
func EndDay(t time.Time, zone *time.Location) (day Date, midnight bool) {
	before := DateOf(t.Add(-time.Second).In(zone))
	return before, before != DateOf(t.In(zone))
}

// VitalsWords says in words what was taken of a whole horse, one fact a line, in the order of the form.
func VitalsWords(v Vitals, words LegWords, mark DecimalMark) []string {
	var said []string
	add := func(taken bool, format string, args ...any) {
		if taken {
			said = append(said, fmt.Sprintf(format, args...))
		}
	}
	tenths := func(n int) string { return FormatFloat(float64(n)/10, 1, mark) }
	add(v.TemperatureTenthsC != 0, "%s °C", tenths(v.TemperatureTenthsC))
	add(v.PulsePerMinute != 0, "Pulse %d a minute", v.PulsePerMinute)
	add(v.RestedMinutes != 0, "At rest for %d min", v.RestedMinutes)
	add(v.BreathsPerMinute != 0, "%d breaths a minute", v.BreathsPerMinute)
	add(v.RefillTenthsSecond != 0, "Gums pink again after %s s", tenths(v.RefillTenthsSecond))
	add(v.Gums != "", "Gums %s", v.Gums)
	add(v.NoGutSounds, "No gut sounds")
	add(v.LabouredBreathing, "Laboured breathing")
	add(v.WeightKG != 0, "%s kg", FormatFloat(float64(v.WeightKG), 0, mark))
	add(v.ConditionHalves != 0, "Condition %s of 9", FormatFloat(float64(v.ConditionHalves)/2, 1, mark))
	for _, leg := range Legs() {
		girth := v.GirthMM[leg-1]
		add(girth != 0, "%s %d mm round", LegName(leg, words), girth)
	}
	return said
}

// Capital makes the first letter large.
func Capital(text string) string {
	_, size := utf8.DecodeRuneInString(text)
	return strings.ToUpper(text[:size]) + text[size:]
}

// Small makes the first letter small.
func Small(text string) string {
	_, size := utf8.DecodeRuneInString(text)
	return strings.ToLower(text[:size]) + text[size:]
}

// Count writes a number with its noun: "1 day", "3 days".
func Count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// List joins words: "a", "a and b", "a, b and c".
func List(parts []string) string {
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}
