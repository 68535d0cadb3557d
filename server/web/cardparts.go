package web

import (
	"slices"
	"strconv"
	"strings"

	"leground/tracker"
	"leground/tracker/cautions"
)

// Score is one sign with its choices, drawn as a row of tiles.
type Score struct {
	ID      string // unique on the page
	Name    string // of the field
	Legend  string
	Steps   []Step
	Last    string // what it was last time; empty: not known
	LastWas string // the value of last time for the hidden field; empty: not judged
	Problem *tracker.FieldProblem
}

// Step is one choice.
type Step struct {
	Value  string
	Words  string
	Chosen bool
}

// DangerTick is one danger sign with the words to act on, which appear when it is ticked.
type DangerTick struct {
	ID     string
	Value  string
	Name   string
	Level  string
	Act    string
	Ticked bool
}

// Tick is one checkbox tile.
type Tick struct {
	Name, Value, Words string
	Ticked             bool
}

// tick is a tile that is ticked where it was when the form was sent.
func (s sent) tick(name, value, words string) Tick {
	return Tick{name, value, words, s.Is(name, value, false)}
}

func (s sent) flags(flags ...tracker.Flag) []Tick {
	var out []Tick
	for _, flag := range flags {
		out = append(out, s.tick("flag", string(flag), tracker.FlagName(flag)))
	}
	return out
}

func (s sent) score(prefix string, sign tracker.Sign, last *tracker.Check) Score {
	out := Score{ID: prefix + "-" + string(sign), Name: string(sign), Legend: tracker.SignName(sign), Problem: s.Problem(string(sign))}
	if last != nil {
		if level, judged := last.Signs[sign]; judged {
			out.Last, out.LastWas = tracker.SignStep(sign, level), strconv.Itoa(level)
		}
	}
	for _, level := range sign.Levels() {
		value := strconv.Itoa(level)
		out.Steps = append(out.Steps, Step{value, tracker.SignStep(sign, level), s.Is(string(sign), value, false)})
	}
	return out
}

func (s sent) dangers(prefix string, list []tracker.Danger) []DangerTick {
	var out []DangerTick
	for _, d := range list {
		level, act := cautions.DangerWords(d)
		out = append(out, DangerTick{prefix + "-" + string(d), string(d), tracker.DangerName(d), tracker.LevelName(level), act, s.Is("danger", string(d), false)})
	}
	return out
}

// Scores lists the signs that the card asks for: two of a wound, six active ones of a patch, and weekly
// its chronic ones.
func (f SiteForm) Scores() []Score {
	signs := tracker.WoundSigns()
	if f.Card.Site.Kind == tracker.Patch {
		signs = tracker.ActiveSigns()
	}
	if f.Card.AskChronic {
		signs = append(signs, tracker.ChronicSigns()...)
	}
	if f.Card.Site.Region.Foot() {
		signs = append(signs, tracker.Thrush)
	}
	var out []Score
	for _, sign := range signs {
		out = append(out, f.score(f.Anchor, sign, f.Card.Last))
	}
	return out
}

// SignFields names the fields of which one must be filled in on a card.
func (f SiteForm) SignFields() string { return fieldNames(f.Scores(), "same", "not_judged") }

// SignFields names the fields of which one must be filled in on a leg line.
func (f LegForm) SignFields() string {
	return fieldNames(f.Scores(), "clear", "care", "danger", "flag")
}

func fieldNames(scores []Score, more ...string) string {
	for _, s := range scores {
		more = append(more, s.Name)
	}
	return strings.Join(more, " ")
}

// Dangers lists the danger ticks of a site.
func (f SiteForm) Dangers() []DangerTick { return f.dangers(f.Anchor, tracker.SiteDangers()) }

// AnyLast tells whether there is a last look whose scores can stay the same.
func (f SiteForm) AnyLast() bool { return f.Card.Last != nil && len(f.Card.Last.Signs) > 0 }

// Sizes lists the answers other than a size.
func (f SiteForm) Sizes() []Tick {
	var out []Tick
	for _, answer := range []tracker.SizeAnswer{tracker.CouldNotMeasure, tracker.UnderBandage, tracker.HairHides, tracker.ClosedOver} {
		words := tracker.SizeAnswerName(answer)
		if answer == tracker.ClosedOver {
			words = "no open skin: closed over"
		}
		out = append(out, f.tick("size", answer.String(), words))
	}
	return out
}

// Asked gives the lengths that are asked about in a card that comes back; empty: none are.
func (f SiteForm) Asked() string {
	return f.asked(func(sent *form) tracker.Check { return tracker.Check{Subject: tracker.OfSite, Size: readSize(sent)} })
}

// asked reads of a form that was sent what it is asked about; empty: nothing.
func (s sent) asked(read func(*form) tracker.Check) string {
	f := form{values: s.Values}
	if check := read(&f); len(f.doubts(check)) > 0 {
		return doubted(check)
	}
	return ""
}

// Deep are the numbers of a wound that are taken now and then.
func (f SiteForm) Deep() []NumberField {
	return f.numbers(f.Anchor+"-", 6,
		NumberField{Name: "depth", Words: "Deepest", Unit: "mm"}, NumberField{Name: "bed_above", Words: "The bed stands above the skin by", Unit: "mm"},
		NumberField{Name: "bed_below", Words: "The bed lies below the skin by", Unit: "mm"},
		NumberField{Name: "area", Words: "Area inside a traced outline", Unit: "cm²", Hint: "On clear film, squares counted. Outlines and rulers are judged apart.", Decimal: true})
}

// Deeper tells whether one of them was filled in.
func (f SiteForm) Deeper() bool {
	return slices.ContainsFunc(f.Deep(), func(n NumberField) bool { return n.Value != "" })
}

// Beds lists the bed levels.
func (f SiteForm) Beds() []Tick {
	var out []Tick
	for _, bed := range []tracker.Bed{tracker.BedBelow, tracker.BedFlush, tracker.BedAbove} {
		out = append(out, f.tick("bed", bed.String(), tracker.BedName(bed)))
	}
	return out
}

// Facts lists what is ticked about how it was seen.
func (f SiteForm) Facts() []Tick {
	out := []Tick{
		f.tick("scab", "1", "Scab on"), f.tick("skin_seen", "1", "Saw the skin itself"), f.tick("bandage", "1", "Bandage on"),
		f.tick("hair", "1", "Hair in the way"), f.tick("clipped", "1", "Clipped"), f.tick("sedated", "1", "Sedated"),
	}
	flags := []tracker.Flag{tracker.Smell, tracker.Itch, tracker.BandageRub}
	if f.Card.Site.Region.Foot() {
		flags = append(flags, tracker.FrogGrowth)
	}
	return append(out, f.flags(flags...)...)
}

// Scores lists the signs of a leg.
func (f LegForm) Scores() []Score {
	var out []Score
	for _, sign := range tracker.LegSigns() {
		out = append(out, f.score(f.Anchor, sign, f.Leg.Last))
	}
	return out
}

// Dangers lists the danger ticks of a leg.
func (f LegForm) Dangers() []DangerTick { return f.dangers(f.Anchor, tracker.LegDangers()) }

// Care lists what can be ticked as done for the leg.
func (f LegForm) Care() []Tick {
	var out []Tick
	for _, act := range tracker.CareActs() {
		out = append(out, f.tick("care", string(act), tracker.CareName(act)))
	}
	return out
}

// Flags lists what can be ticked about a leg that is no danger by itself.
func (f LegForm) Flags() []Tick {
	return f.flags(tracker.FillsAtRest, tracker.WhiteSkin, tracker.BandageRub)
}

// Regions lists the parts of the leg that a new site can be on.
func (a SiteAdder) Regions() []Step {
	var out []Step
	for _, region := range tracker.RegionsOf(a.Leg) {
		out = append(out, Step{region.String(), tracker.RegionName(a.Leg, region), a.Is("region", region.String(), region == tracker.Pastern)})
	}
	return out
}

// Aspects lists the faces that a new site can be on.
func (a SiteAdder) Aspects() []Step {
	out := []Step{{"back", "back", a.Is("aspect", "back", true)}}
	for _, aspect := range []tracker.Aspect{tracker.Dorsal, tracker.Lateral, tracker.Medial, tracker.AllRound, tracker.Ground} {
		out = append(out, Step{aspect.String(), tracker.AspectName(aspect), a.Is("aspect", aspect.String(), false)})
	}
	return out
}

// HereID is the record that Undo takes back and Change opens.
func (f LegForm) HereID() tracker.RecordID {
	if f.Leg.Here == nil {
		return ""
	}
	return f.Leg.Here.ID
}

// HereID is the record that Undo takes back and Change opens.
func (f SiteForm) HereID() tracker.RecordID {
	if f.Card.Here == nil {
		return ""
	}
	return f.Card.Here.ID
}
