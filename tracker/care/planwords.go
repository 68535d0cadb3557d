package care

import (
	"fmt"
	"math/big"
	"strings"

	"leground/tracker"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// StepWords says what a step asks for, in the words of a leg line: "Wash with chlorhexidine gluconate at
// 0.05 g per 100 mL, leave on for 10 minutes". A number that cannot be read back is said to be missing.
func StepWords(s tracker.PlanStep, mark tracker.DecimalMark) string {
	var words string
	switch s.Kind {
	case tracker.StepWash:
		words = washWords(s, mark)
	case tracker.StepApply:
		words = applyWords(s, mark)
	case tracker.StepGive:
		words = "Give " + s.Of
		if dose := DoseOf(tracker.Plan{SetName: "the vet", SetOn: s.Begins}, s, mark); dose.Refused() {
			words += ": " + dose.Refusals[0].Text
		} else {
			words += " " + dose.Each.Words(mark)
		}
	case tracker.StepWalk:
		words = "Walk"
		if s.Minutes > 0 {
			words += " for " + minuteWords(s.Minutes)
		}
	default:
		words = tracker.StepName(s.Kind)
	}
	if s.Note != "" {
		words += ". " + s.Note
	}
	return words
}

func applyWords(s tracker.PlanStep, mark tracker.DecimalMark) string {
	words := "Put on " + s.Of
	amount, err := Amount(s.Amount)
	if err == nil && amount.Value != nil {
		words += " " + amount.Words(mark)
	}
	area, err := Fraction(s.AreaCM2)
	if err == nil && area != nil {
		words += " on " + tracker.FormatNumber(area, ShownPlaces, mark) + "\u00a0cm²"
	}
	if amount.Value != nil || area != nil {
		words += " on each leg"
	}
	return words
}

func washWords(s tracker.PlanStep, mark tracker.DecimalMark) string {
	words := "Wash"
	if s.Of != "" {
		words += " with " + s.Of
	}
	if strength, err := Strength(s.Strength); err == nil && strength.Value != nil {
		words += " at " + strength.Words(mark)
		if string(strength.Of) != s.Of {
			words += " of " + string(strength.Of)
		}
	}
	if amount, err := Amount(s.Amount); err == nil && amount.Value != nil {
		words += ", " + amount.Words(mark) + " on each leg"
	}
	if s.Minutes > 0 {
		words += ", leave on for " + minuteWords(s.Minutes)
	}
	if s.Rinse {
		words += ", rinse off"
	}
	return words
}

func minuteWords(n int) string {
	if n == 1 {
		return "1\u00a0minute"
	}
	return fmt.Sprintf("%d\u00a0minutes", n)
}

// WhenWords says how often a step is done, phase by phase: "twice a day for 7 days, then once a day until
// closed over".
func WhenWords(s tracker.PlanStep) string {
	phases, err := rounds.PhasesOf(s, 0)
	if err != nil {
		return "at times that cannot be read: change the plan"
	}
	words := rounds.PlanStep{Phases: phases}.String()
	if last := len(s.Phases) - 1; last >= 0 && s.Phases[last].Until == tracker.EndsVet && s.Phases[last].Date != 0 {
		words += ", which was on " + tracker.DayName(s.Phases[last].Date)
	}
	return words
}

// ForWords says what a plan is for: "RH 1, RH 2", "LF, RF" or "the whole horse".
func ForWords(p tracker.Plan, sites []tracker.Site) string {
	var tags []string
	for _, leg := range p.Legs {
		tags = append(tags, leg.String())
	}
	for _, site := range sites {
		for _, id := range p.Sites {
			if id == site.ID {
				tags = append(tags, site.Tag())
			}
		}
	}
	if len(tags) == 0 {
		return "the whole horse"
	}
	return strings.Join(tags, ", ")
}

func sourceWord(s tracker.PlanSource) string {
	return map[tracker.PlanSource]string{tracker.SetByVet: "the vet", tracker.SetByOwner: "the owner", tracker.SetByLabel: "the label"}[s]
}

// SetWords says who set a plan: "Set by the vet, Marlpit vet, on Thu 30 Apr".
func SetWords(p tracker.Plan) string {
	who := sourceWord(p.Source)
	if p.SetName != "" {
		who += ", " + p.SetName
	}
	return "Set by " + who + ", on " + tracker.DayName(p.SetOn)
}

// SureWords says who read a version back or that the vet confirmed it, and says so when nobody did.
func SureWords(p tracker.Plan, people map[tracker.PersonID]string) string {
	if r, differs := p.Differs(); differs {
		return "read differently by " + people[r.By] + " (" + r.Typed + "): ask whoever set it before it is given"
	}
	r, sure := p.Sure()
	switch {
	case !sure:
		return "checked by one person only: nobody has read it back"
	case r.Kind == tracker.VetByPhone:
		return "confirmed by the vet, " + r.Name + ", by phone on " + tracker.DayName(r.Day)
	case r.Kind == tracker.VetOnVisit:
		return "confirmed by the vet, " + r.Name + ", on a visit on " + tracker.DayName(r.Day)
	case r.Kind == tracker.VetsWords:
		return "confirmed by the vet, " + r.Name + ", in their own words of " + tracker.DayName(r.Day)
	}
	return "read back by " + people[r.By]
}

// blindTo tells whether a person may not see a step's amounts yet: a medicine by weight that nobody has read back,
// which they would have to type without having seen it. Whoever entered it sees it.
func blindTo(p tracker.Plan, s tracker.PlanStep, viewer tracker.PersonID) bool {
	_, sure := p.Sure()
	return s.Kind == tracker.StepGive && !sure && viewer != p.By
}

// wordsFor is StepWords for who looks, without the amounts that they may not see yet. A medicine that was read in two ways
// is not to be given before that is settled: whoever may see the amounts sees both readings side by side.
func (st yardState) wordsFor(plan tracker.Plan, s tracker.PlanStep) string {
	read, differs := plan.Differs()
	blind := blindTo(plan, s, st.viewer)
	switch {
	case s.Kind == tracker.StepGive && differs && blind:
		return "Do not give " + s.Of + " yet: it was read in two ways. Ask whoever set it. The amount is hidden until a second person has read the plan back"
	case s.Kind == tracker.StepGive && differs:
		return "Do not give " + s.Of + " yet: it was read in two ways. Entered: " + enteredWords(s) + ". Read back: " + read.Typed + ". Ask whoever set it"
	case blind:
		return "Give " + s.Of + ": the amount is hidden until a second person has read the plan back"
	}
	return StepWords(s, st.Yard.Mark)
}

// doseFor gives the lines of a medicine's working, for who may see them.
func (st yardState) doseFor(plan tracker.Plan, s tracker.PlanStep) (lines []string) {
	if _, differs := plan.Differs(); s.Kind != tracker.StepGive || differs || blindTo(plan, s, st.viewer) {
		return nil
	}
	for _, line := range DoseOf(plan, s, st.Yard.Mark).Working {
		lines = append(lines, line.Text)
	}
	return lines
}

// doubtOf says in a few words that nobody has read a plan back, or that somebody read it differently; empty when it
// was read back or confirmed.
func doubtOf(p tracker.Plan, people map[tracker.PersonID]string) string {
	if _, differs := p.Differs(); differs {
		return "Plan " + SureWords(p, people) + "."
	}
	if _, sure := p.Sure(); !sure {
		return "Nobody has read this plan back."
	}
	return ""
}

// DoseOf works a medicine by weight out from the vet's order in a plan, never from anything else, rounded to the
// measure that the order names.
func DoseOf(p tracker.Plan, s tracker.PlanStep, mark tracker.DecimalMark) mixing.Dose {
	in, label, err := instructionOf(s, p.SetName, p.SetOn)
	if err != nil {
		return mixing.Dose{Refusals: []mixing.Note{{ID: "R12", Text: "The order cannot be read. Enter it again."}}}
	}
	var device *mixing.Device
	if s.Order.Measure != "" {
		if d, err := mixing.ParseDevice(s.Order.Measure); err == nil {
			device = &d
		}
	}
	return in.Dose(label, device, mark)
}

// instructionOf gives a step's order as package mixing takes it.
func instructionOf(s tracker.PlanStep, by string, on tracker.Date) (mixing.Instruction, mixing.Strength, error) {
	label, err := Strength(s.Order.Label)
	in := mixing.Instruction{By: by, On: on, Of: label.Of, Units: s.Order.Units, WeightEstimated: s.Order.Estimated, MaxDays: s.Order.MaxDays}
	for _, f := range []struct {
		to   **big.Rat
		text tracker.FractionText
	}{{&in.PerKG, s.Order.PerKG}, {&in.WeightKG, s.Order.WeightKG}, {&in.MaxPerKG, s.Order.MaxPerKG}, {&in.MaxCourse, s.Order.MaxCourse}} {
		if err == nil {
			*f.to, err = Fraction(f.text)
		}
	}
	for _, p := range s.Phases {
		in.TimesPerDay = max(in.TimesPerDay, p.Times, len(p.Slots))
		in.Days += p.Count
		if p.Until == tracker.EndsOn {
			in.Days += int(p.Date-s.Begins) + 1
		}
	}
	return in, label, err
}
