package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// PlanLine is one step of a plan, ready to be read.
type PlanLine struct {
	Number int // on its page; the week grid speaks of it by this
	Step   tracker.PlanStep
	Words  string
	When   string
	Dose   *mixing.Dose // of a medicine by weight, with its working
	Food   string       // the warning about the food chain; empty: none
	Weight string       // that the weight of a medicine is far from the book's; empty: it is not
}

// PlanWords is one version of a plan, ready to be read.
type PlanWords struct {
	Plan    tracker.Plan
	For     string
	Set     string
	Sure    string // who read it back, or that nobody did
	IsSure  bool
	Entered string // who entered it
	Lines   []PlanLine
	Coming  bool // it holds from a later round on
	MayRead bool // this person may read it back
}

// planWords writes a version out for its horse, its steps numbered from a number on.
func (st yardState) planWords(horse tracker.Horse, p *tracker.Plan, people map[tracker.PersonID]string, from int) PlanWords {
	out := PlanWords{Plan: *p, For: ForWords(*p, st.sites), Set: SetWords(*p), Sure: SureWords(*p, people), Entered: people[p.By]}
	_, out.IsSure = p.Sure()
	out.Coming = p.Starts > st.Today
	for i, step := range p.Steps {
		line := PlanLine{Number: from + i, Step: step, Words: st.wordsFor(*p, step), When: WhenWords(step), Food: st.foodWords(horse, step)}
		if _, differs := p.Differs(); step.Kind == tracker.StepGive && !differs && !blindTo(*p, step, st.viewer) {
			dose := DoseOf(*p, step, st.Yard.Mark)
			line.Dose = &dose
		}
		if kg, err := Fraction(step.Order.WeightKG); err == nil {
			line.Weight = st.weight.words(kg, blindTo(*p, step, st.viewer), st.Yard.Mark)
		}
		out.Lines = append(out.Lines, line)
	}
	return out
}

// GridCell is one round of one day.
type GridCell struct {
	Day  tracker.Date
	Due  []int  // the numbers of the steps
	Done int    // of these, those that are recorded
	Why  string // why nothing is due, where that is not the plan itself
	Past bool   // the day is over
}

// GridRow is one round of the day over a week.
type GridRow struct {
	Slot  tracker.Slot
	Cells []GridCell
}

// GridWeek is seven days.
type GridWeek struct {
	Days []tracker.Date
	Rows []GridRow
}

// grid lays a horse's plans out from a day on. checks are what was recorded on these days.
func (st yardState) grid(horse tracker.HorseID, plans []PlanWords, first tracker.Date, weeks int, checks []tracker.Check) []GridWeek {
	numbers := map[string]int{}
	for _, p := range plans {
		for _, line := range p.Lines {
			numbers[line.Step.ID] = line.Number
		}
	}
	asked, _ := st.ask(first, first+tracker.Date(7*weeks-1))
	var out []GridWeek
	for w := range weeks {
		var week GridWeek
		for d := range 7 {
			week.Days = append(week.Days, first+tracker.Date(7*w+d))
		}
		for _, slot := range st.Yard.Slots {
			row := GridRow{Slot: slot}
			for _, day := range week.Days {
				row.Cells = append(row.Cells, st.gridCell(horse, numbers, asked, day, slot, checks))
			}
			week.Rows = append(week.Rows, row)
		}
		out = append(out, week)
	}
	return out
}

func (st yardState) gridCell(horse tracker.HorseID, numbers map[string]int, asked []rounds.Asked, day tracker.Date, slot tracker.Slot, checks []tracker.Check) GridCell {
	cell := GridCell{Day: day, Past: day < st.Today}
	open := map[int]bool{}
	for _, a := range asked {
		number := numbers[a.Step.ID]
		if a.Plan.Horse != horse || a.Day != day || a.Slot.Name != slot.Name || number == 0 {
			continue
		}
		if !slices.Contains(cell.Due, number) {
			cell.Due = append(cell.Due, number)
		}
		open[number] = open[number] || !recordedOf(a, checks, st.ticks).Done
	}
	for _, number := range cell.Due {
		if !open[number] {
			cell.Done++
		}
	}
	switch {
	case len(cell.Due) > 0:
	case st.closedOn(day):
		cell.Why = "closed"
	case st.awayOn(horse, day):
		cell.Why = "away"
	}
	slices.Sort(cell.Due)
	return cell
}

// plansShown is how many of a horse's plans its page names, old ones too.
const plansShown = 20

// PlansView is a horse's page of plans.
type PlansView struct {
	Moment
	Horse    tracker.Horse
	Plans    []PlanWords // that hold now or will
	Week     GridWeek    // this one, from Monday
	Past     []tracker.Plan
	Troubles []string
	RingIf   []RingRule
	Away     []tracker.Absence // now or to come
}

// RingRule is one rule of "stop and ring the vet if ...".
type RingRule struct{ Words, By string }

// Plans gives a horse's page of plans.
func (s *Service) Plans(ctx context.Context, a Actor, id tracker.HorseID) (PlansView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (PlansView, error) {
		horse, e1 := tx.Horse(id)
		st, e2 := readYard(tx, a, now)
		if err := cmp.Or(e1, e2); err != nil {
			return PlansView{}, err
		}
		monday := weekOf(st.Today)
		st.planned, e1 = readPlanned(tx, monday)
		var e5 error
		st.products, e5 = tx.Products()
		people, e2 := names(tx)
		checks, e3 := tx.Checks(CheckQuery{Horse: id, From: monday})
		roots, e4 := tx.PlanRoots(id, plansShown)
		out := PlansView{Moment: st.Moment, Horse: horse}
		var e6 error
		st.weight, e6 = lastWeight(tx, id)
		st.ofHorse(&out, a, people)
		out.Week = st.grid(id, out.Plans, monday, 1, checks)[0]
		for _, p := range roots {
			if !slices.ContainsFunc(out.Plans, func(w PlanWords) bool { return w.Plan.Root == p.Root }) {
				out.Past = append(out.Past, p)
			}
		}
		return out, cmp.Or(e1, e2, e3, e4, e5, e6)
	})
}

// ofHorse fills in the plans that hold now or will, their rules, what is wrong with them, and the days away.
func (st yardState) ofHorse(out *PlansView, a Actor, people map[tracker.PersonID]string) {
	from := 1
	add := func(p *tracker.Plan) {
		words := st.planWords(out.Horse, p, people, from)
		words.MayRead = p.By != a.Person.ID
		from += len(words.Lines)
		out.Plans = append(out.Plans, words)
		for _, rule := range p.RingIf {
			out.RingIf = append(out.RingIf, RingRule{rule, SetWords(*p)})
		}
	}
	for _, p := range st.holding(out.Horse.ID) {
		add(p)
	}
	_, troubles := st.ask(st.Today, st.Today)
	for _, t := range troubles {
		if t.Plan.Horse == out.Horse.ID {
			out.Troubles = append(out.Troubles, troubleWords(t, st.sites))
		}
	}
	for _, away := range st.away {
		if away.Horse == out.Horse.ID && (away.To == 0 || away.To >= st.Today) {
			out.Away = append(out.Away, away)
		}
	}
}

// holding lists a horse's versions that hold now and those that will, leaving out what is over.
func (st yardState) holding(horse tracker.HorseID) []*tracker.Plan {
	var out []*tracker.Plan
	now := rounds.InForceOn(st.plans, st.Today)
	for i := range st.plans {
		p := &st.plans[i]
		over := p.Stopped || p.Last != 0 && p.Last < st.Today
		if p.Horse == horse && !over && (p.Starts > st.Today || slices.Contains(now, p)) {
			out = append(out, p)
		}
	}
	return out
}

func troubleWords(t rounds.Trouble, sites []tracker.Site) string {
	return "The plan for " + ForWords(*t.Plan, sites) + " cannot be worked out: " + t.Err.Error() + ". Change the plan; until then nothing of it is shown as due."
}

// PlanHistory is every version of one plan.
type PlanHistory struct {
	Moment
	Horse    tracker.Horse
	Newest   PlanWords
	Versions []PlanWords // newest first
	People   map[tracker.PersonID]string
	MayRead  bool // this person may read the newest version back
}

// PlanHistory gives a plan with all its versions, found by the id of any of them.
func (s *Service) PlanHistory(ctx context.Context, a Actor, id tracker.RecordID) (PlanHistory, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (PlanHistory, error) {
		var out PlanHistory
		st := yardState{viewer: a.Person.ID}
		plan, err := tx.PlanByRecord(id)
		if err != nil {
			return out, err
		}
		var e2, e3, e4, e5, e6, e7 error
		versions, e1 := tx.PlanVersions(plan.Root)
		out.Horse, e2 = tx.Horse(plan.Horse)
		st.Moment, e3 = momentOf(tx, now)
		st.sites, e4 = tx.Sites(plan.Horse)
		out.People, e5 = names(tx)
		st.products, e6 = tx.Products()
		st.weight, e7 = lastWeight(tx, plan.Horse)
		if err := cmp.Or(e1, e2, e3, e4, e5, e6, e7); err != nil {
			return out, err
		}
		out.Moment = st.Moment
		for i := range versions {
			out.Versions = append(out.Versions, st.planWords(out.Horse, &versions[i], out.People, 1))
		}
		slices.Reverse(out.Versions)
		out.Newest = out.Versions[0]
		out.MayRead = out.Newest.Plan.By != a.Person.ID && !out.Newest.Plan.Stopped
		return out, nil
	})
}

// PlanFormView is what the form of a plan offers.
type PlanFormView struct {
	Moment
	Horse    tracker.Horse
	Sites    []tracker.Site
	Products []tracker.Product
	Plan     *tracker.Plan     // that is to be changed; nil: a new one
	From     *tracker.Proposal // what a vet wrote, of which it is made; nil: of nothing
}

// PlanForm gives what the form of a plan for a horse offers, of a change to a version of one, or of a plan that is made
// of what a vet wrote.
func (s *Service) PlanForm(ctx context.Context, a Actor, horse tracker.HorseID, changes, from tracker.RecordID) (PlanFormView, error) {
	if err := a.may(tracker.Owner); err != nil {
		return PlanFormView{}, err
	}
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (out PlanFormView, err error) {
		if changes != "" {
			plan, err := tx.PlanByRecord(changes)
			if err != nil {
				return out, err
			}
			out.Plan, horse = &plan, plan.Horse
		}
		var errs [5]error
		if from != "" {
			out.From, errs[0] = wordsFor(tx, from, horse)
		}
		out.Horse, errs[1] = tx.Horse(horse)
		out.Moment, errs[2] = momentOf(tx, now)
		out.Sites, errs[3] = tx.Sites(horse)
		out.Products, errs[4] = tx.Products()
		return out, cmp.Or(errs[:]...)
	})
}
