package care

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"leground/tracker"
)

// WeekView is the sheet for the wall: what is due over seven days, with a box for each time.
type WeekView struct {
	Moment
	Days    []tracker.Date
	Slots   []tracker.Slot
	Horses  []WeekHorse
	OneOffs []string // "Sat 16 May, 15:00: Bramble, the farrier comes"
	RingIf  []string // "Bramble: the leg is hot above the fetlock"
	Doubts  []string // plans that nobody has read back
}

// WeekHorse is one horse's lines, in walking order.
type WeekHorse struct {
	Horse tracker.Horse
	Lines []WeekLine
}

// WeekLine is one thing to do, with its boxes.
type WeekLine struct {
	For   string // "RH, LH"; empty: the whole horse
	Words string
	Boxes []WeekBox // one for each round of each day
}

// WeekBox is one round of one day.
type WeekBox struct {
	Due  bool
	Ends bool // the day's last round
}

// WeekSheet gives the sheet for the seven days from one on; the zero Date means the Monday of this week.
func (s *Service) WeekSheet(ctx context.Context, a Actor, from tracker.Date) (WeekView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view WeekView, err error) {
		st, err := readYard(tx, a, now)
		if err != nil {
			return view, err
		}
		from := cmp.Or(from, weekOf(st.Today))
		if from < st.Today-carried || from > st.Today+carried {
			return view, tracker.Refuse(tracker.Invalid, "The week sheet shows six weeks before and after today.")
		}
		e1 := st.turnTo(tx, from)
		people, e2 := names(tx)
		if err := cmp.Or(e1, e2); err != nil {
			return view, err
		}
		view.Moment = st.Moment
		for d := range 7 {
			view.Days = append(view.Days, from+tracker.Date(d))
		}
		view.Slots = st.Yard.Slots
		st.weekLines(&view)
		st.weekNotes(&view, people)
		return view, nil
	})
}

// weekLines makes a line of the leg round and one of each step of each horse.
func (st yardState) weekLines(view *WeekView) {
	first, last := view.Days[0], view.Days[6]
	asked, _ := st.ask(first, last)
	box := func(day tracker.Date, slot string) int {
		i := slices.IndexFunc(view.Slots, func(s tracker.Slot) bool { return s.Name == slot })
		return int(day-first)*len(view.Slots) + i
	}
	for _, horse := range st.horses {
		out := WeekHorse{Horse: horse, Lines: []WeekLine{{Words: "Look at every leg", Boxes: make([]WeekBox, 7*len(view.Slots))}}}
		for _, day := range view.Days {
			for _, slot := range view.Slots {
				out.Lines[0].Boxes[box(day, slot.Name)].Due = !st.closedOn(day) && !st.awayOn(horse.ID, day)
			}
		}
		at := map[string]int{}
		for _, a := range asked {
			if a.Plan.Horse != horse.ID {
				continue
			}
			i, known := at[a.Step.ID]
			if !known {
				i, at[a.Step.ID] = len(out.Lines), len(out.Lines)
				out.Lines = append(out.Lines, WeekLine{Words: st.wordsFor(*a.Plan, a.Step), Boxes: make([]WeekBox, 7*len(view.Slots))})
			}
			line := &out.Lines[i]
			if leg := a.Leg.String(); !slices.Contains(strings.Split(line.For, ", "), leg) {
				line.For = strings.TrimPrefix(line.For+", "+leg, ", ")
			}
			line.Boxes[box(a.Day, a.Slot.Name)].Due = true
		}
		for i := range out.Lines {
			for b := range out.Lines[i].Boxes {
				out.Lines[i].Boxes[b].Ends = (b+1)%len(view.Slots) == 0
			}
		}
		view.Horses = append(view.Horses, out)
	}
}

// weekNotes adds what is due once, the rules when to ring, and which plans nobody has read back.
func (st yardState) weekNotes(view *WeekView, people map[tracker.PersonID]string) {
	first, last := view.Days[0], view.Days[6]
	for _, o := range st.oneOffs {
		if o.Day > last || o.Day < first || !o.Settled.IsZero() {
			continue
		}
		words := tracker.DayName(o.Day)
		if o.Timed {
			words += ", " + o.At.String()
		}
		if i := st.horseAt(o.Horse); i >= 0 {
			words += ": " + st.horses[i].Name + ", " + tracker.Small(o.What)
		} else {
			words += ": " + o.What
		}
		view.OneOffs = append(view.OneOffs, words)
	}
	for _, horse := range st.horses {
		for _, p := range st.holding(horse.ID) {
			for _, rule := range p.RingIf {
				view.RingIf = append(view.RingIf, horse.Name+": "+rule)
			}
			if _, sure := p.Sure(); !sure {
				view.Doubts = append(view.Doubts, horse.Name+", plan for "+ForWords(*p, st.sites)+": "+SureWords(*p, people))
			}
		}
	}
}
