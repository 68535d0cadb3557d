package care

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// DueRow is one line of the Due list: a step of a plan for some legs of one horse, or something that is due once.
type DueRow struct {
	Record tracker.RecordID // of the form that ticks it off
	Horse  tracker.Horse    // none: the whole yard
	For    string           // "RH, LH"; empty: the whole horse or yard
	Words  string
	Items  []string // keys of what is still to do
	Day    tracker.Date
	Slot   string // empty: any time
	Since  tracker.Date
	State  DueState
	Said   []string         // what was recorded: "RH done 07:40 by Bea"
	Undo   tracker.RecordID // a tick that can be taken back; empty: none
	Plan   tracker.RecordID // the version; empty: due once
	Step   string           // its id
	Weigh  bool             // its weight is to be written down, which ticks it off
	Mixed  bool             // a wash that is mixed
	Mix    MixAsk           // and what its page for mixing starts from
	Doubt  string           // that nobody has read the plan back; empty: somebody has
	OneOff *tracker.OneOff
	Dose   []string // the working of a medicine by weight
	Food   string   // the warning about the food chain; empty: none
	Early  string   // that its round is later today, which whoever ticks it must know; empty: it is not
	Coming bool     // it belongs to a round of a later day, and cannot be ticked yet
}

// DueState is how a line of the Due list stands.
type DueState int

// The states.
const (
	DueOpen DueState = iota + 1
	DuePart
	DueDone
	DueSkipped
)

// Left tells whether anything of the line is still to do.
func (r DueRow) Left() bool { return r.State == DueOpen || r.State == DuePart }

// DueGroup is what is due at one time of day, in walking order.
type DueGroup struct {
	Name string // "Morning round", "Any time today"
	At   string // local time: "07:00"; empty: any time
	Rows []DueRow
}

// DueView is the Due list of one day.
type DueView struct {
	Moment
	Day      tracker.Date
	Closed   bool // the whole yard, on this day
	Groups   []DueGroup
	Troubles []string
	Horses   []tracker.Horse // for the forms
	Away     []AwayLine
	People   map[tracker.PersonID]string
}

// AwayLine is a horse that is away now or will be.
type AwayLine struct {
	tracker.Absence
	Name string
}

// Left counts the lines that are still to do.
func (v DueView) Left() (n int) {
	for _, g := range v.Groups {
		for _, r := range g.Rows {
			if r.Left() {
				n++
			}
		}
	}
	return n
}

// Due gives the Due list of a day: all horses by hour. The zero Date means today.
func (s *Service) Due(ctx context.Context, a Actor, day tracker.Date) (DueView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (DueView, error) {
		st, err := readYard(tx, a, now)
		if err != nil {
			return DueView{}, err
		}
		view := DueView{Moment: st.Moment, Day: cmp.Or(day, st.Today)}
		if view.Day < st.Today-carried || view.Day > st.Today+carried {
			return view, tracker.Refuse(tracker.Invalid, "The Due list shows six weeks before and after today.")
		}
		var e2, e4 error
		e1 := st.turnTo(tx, view.Day)
		st.products, e4 = tx.Products()
		view.People, e2 = names(tx)
		checks, e3 := tx.Checks(CheckQuery{From: view.Day - 1, To: view.Day + 1})
		if err := cmp.Or(e1, e2, e3, e4); err != nil {
			return view, err
		}
		view.Closed = st.closedOn(view.Day)
		view.Groups, view.Troubles = st.dueGroups(view.Day, checks, view.People)
		view.Horses = st.horses
		for _, away := range st.away {
			for _, h := range st.all {
				if h.ID == away.Horse && (away.To == 0 || away.To >= st.Today) {
					view.Away = append(view.Away, AwayLine{away, h.Name})
				}
			}
		}
		return view, nil
	})
}

// turnTo looks at the plans and the walking order of another day.
func (st *yardState) turnTo(tx Tx, day tracker.Date) (err error) {
	st.planned, err = readPlanned(tx, day)
	st.horses = inWalkingOrder(st.all, day)
	return err
}

// dueGroups lists what is due on a day: at each round what the plans ask for there, then one-offs with a time,
// and what may be done at any time.
func (st yardState) dueGroups(day tracker.Date, checks []tracker.Check, people map[tracker.PersonID]string) (groups []DueGroup, troubles []string) {
	asked, wrong := st.ask(day, day)
	for _, t := range wrong {
		if i := st.horseAt(t.Plan.Horse); i >= 0 {
			troubles = append(troubles, st.horses[i].Name+": "+troubleWords(t, st.sites))
		}
	}
	for _, slot := range st.Yard.Slots {
		var here []rounds.Asked
		for _, a := range asked {
			if a.Slot.Name == slot.Name && !a.Step.Kind.AnyTime() && st.horseAt(a.Plan.Horse) >= 0 {
				here = append(here, a)
			}
		}
		if rows := append(st.dueRows(here, checks, people), st.onceRows(day, slot, asked, checks, people)...); len(rows) > 0 {
			groups = append(groups, DueGroup{Name: tracker.Capital(slot.Name) + " round", At: slot.At.String(), Rows: rows})
		}
	}
	var anyTime DueGroup
	anyTime.Name, anyTime.Rows = "Any time", st.standingRows(day, checks, people)
	anyTime.Rows = append(anyTime.Rows, st.onceRows(day, tracker.Slot{}, st.standing(day), checks, people)...)
	for i := range st.oneOffs {
		o := &st.oneOffs[i]
		if o.Day > day || o.Day < day && !o.Settled.IsZero() || o.Horse != "" && st.horseAt(o.Horse) < 0 {
			continue
		}
		row := st.oneOffRow(o, day, people)
		if o.Timed && o.Day == day {
			groups = append(groups, DueGroup{Name: "At " + o.At.String(), At: o.At.String(), Rows: []DueRow{row}})
		} else {
			anyTime.Rows = append(anyTime.Rows, row)
		}
	}
	slices.SortStableFunc(groups, func(a, b DueGroup) int { return strings.Compare(a.At, b.At) })
	if len(anyTime.Rows) > 0 {
		groups = append(groups, anyTime)
	}
	return groups, troubles
}

// dueRows makes one line of each step of each horse.
func (st yardState) dueRows(asked []rounds.Asked, checks []tracker.Check, people map[tracker.PersonID]string) []DueRow {
	var rows []DueRow
	for _, a := range asked {
		i := slices.IndexFunc(rows, func(r DueRow) bool { return r.Step == a.Step.ID })
		if i < 0 {
			rows = append(rows, st.dueRow(a, people))
			i = len(rows) - 1
		}
		row := &rows[i]
		target := ""
		if a.Leg != 0 {
			target = cmp.Or(st.siteTag(a.Site), a.Leg.String())
			row.For = strings.TrimPrefix(row.For+", "+target, ", ")
		}
		state := recordedOf(a, checks, st.ticks)
		row.take(a.When.ID, target, state, people[state.By], st.Zone)
		for _, t := range st.ticks { // of somebody who had the list open before the other one's tick
			if state.Tick != "" && t.Outcome == tracker.TickDone && t.ID != state.Tick && t.By != state.By && t.Day == a.Day && t.Slot == a.Slot.Name && slices.Contains(t.Items, a.When.ID) {
				row.Said = append(row.Said, "Given twice? "+people[t.By]+" ticked it off at "+t.At.In(st.Zone).Format("15:04")+" too.")
			}
		}
	}
	for i := range rows {
		rows[i].settle()
	}
	slices.SortStableFunc(rows, func(a, b DueRow) int { return st.horseAt(a.Horse.ID) - st.horseAt(b.Horse.ID) })
	return rows
}

// onceRows lists what was ticked at a time of the day and is asked for no more, with the way back.
func (st yardState) onceRows(day tracker.Date, slot tracker.Slot, still []rounds.Asked, checks []tracker.Check, people map[tracker.PersonID]string) []DueRow {
	rows := st.dueRows(st.tickedOnce(day, slot, still), checks, people)
	for i := range rows {
		rows[i].Said = append(rows[i].Said, "The plan asks for this no more.")
	}
	return rows
}

func (st yardState) dueRow(a rounds.Asked, people map[tracker.PersonID]string) DueRow {
	row := DueRow{Record: NewRecord(), Horse: st.horses[st.horseAt(a.Plan.Horse)], Words: st.wordsFor(*a.Plan, a.Step), Day: a.Day, Slot: a.Slot.Name,
		Plan: a.Plan.ID, Step: a.Step.ID, Mixed: a.Step.Kind == tracker.StepWash && a.Step.Strength != ""}
	if a.Step.Kind.AnyTime() {
		row.Slot = ""
	}
	row.Weigh = a.Step.Kind == tracker.StepWeigh
	row.Coming = row.Slot != "" && a.Day > st.Today
	row.Early = st.earlyWords(a, st.Now)
	if row.Mixed {
		row.Mix = mixAskOf(a, st.Yard.Mark)
	}
	row.Doubt = doubtOf(*a.Plan, people)
	row.Dose, row.Food = st.doseFor(*a.Plan, a.Step), st.foodWords(row.Horse, a.Step)
	return row
}

// take adds what is known of one leg or site of the row.
func (r *DueRow) take(item, target string, state stepState, by string, zone *time.Location) {
	what := "done"
	switch {
	case state.Done:
	case state.Skipped:
		what = "skipped (" + state.Why + ")"
	default:
		r.Items = append(r.Items, item)
		return
	}
	if state.Tick != "" {
		r.Undo = state.Tick
	}
	words := strings.TrimSpace(target + " " + what + " " + state.At.In(zone).Format("15:04") + " by " + by)
	if !slices.Contains(r.Said, words) {
		r.Said = append(r.Said, words)
	}
	if state.Skipped && r.State != DueDone {
		r.State = DueSkipped
	} else {
		r.State = DueDone
	}
}

// settle says how the row stands as a whole.
func (r *DueRow) settle() {
	switch {
	case len(r.Items) > 0 && r.State != 0:
		r.State = DuePart
	case len(r.Items) > 0:
		r.State = DueOpen
	}
}

// standingRows lists what plans ask for at any time of the day.
func (st yardState) standingRows(day tracker.Date, checks []tracker.Check, people map[tracker.PersonID]string) []DueRow {
	var rows []DueRow
	for _, a := range st.standing(day) {
		state := recordedOf(a, checks, st.ticks)
		if a.Day < day && (state.Done || state.Skipped) {
			continue
		}
		row := st.dueRow(a, people)
		row.take(a.When.ID, "", state, people[state.By], st.Zone)
		if row.settle(); a.Day < day {
			row.Since = a.Day
		}
		rows = append(rows, row)
	}
	return rows
}

// oneOffItem is the key of something that is due once.
func oneOffItem(id tracker.RecordID) string { return "once/" + string(id) }

func (st yardState) oneOffRow(o *tracker.OneOff, day tracker.Date, people map[tracker.PersonID]string) DueRow {
	row := DueRow{Record: NewRecord(), Day: o.Day, Words: o.What, OneOff: o}
	if i := st.horseAt(o.Horse); i >= 0 {
		row.Horse = st.horses[i]
	}
	if o.Day < day {
		row.Since = o.Day
	}
	var state stepState
	if t, found := rounds.TickOf(st.ticks, oneOffItem(o.ID), o.Day, ""); found {
		state = stepState{t.Outcome == tracker.TickDone, t.Outcome == tracker.TickSkipped, t.By, t.At, t.Why, t.ID}
	}
	row.take(oneOffItem(o.ID), "", state, people[state.By], st.Zone)
	row.settle()
	return row
}
