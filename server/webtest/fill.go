package webtest

import (
	"errors"
	"fmt"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
)

// Filled is a yard with a past.
type Filled struct {
	Owner  *Person
	Horses []tracker.HorseID
	Sites  []tracker.SiteID // a wound and a patch of each horse, in the order of the horses
}

// Fill opens a yard and gives each of its horses a wound, a patch and a look a day at both and at all four
// legs, for days that end yesterday, with judgements, a photo a week, an event every two months and a caution a
// month that was acted on. It writes straight into the database, a season to a transaction: made through the
// site's pages, five years would take hours. A PostgreSQL database must be empty: it gets what was filled into
// SQLite first, many rows to a statement.
func (s *Site) Fill(horses, days int) *Filled {
	s.TB.Helper()
	if s.postgres() {
		from := Start(s.TB, Options{Now: s.Clock.Now()})
		filled := from.Fill(horses, days)
		from.copyInto(s)
		session := filled.Owner.Session()
		filled.Owner.Site = s
		filled.Owner.keep(session)
		return filled
	}
	out := &Filled{Owner: s.OpenYard("Marlpit Yard", "Ada")}
	actor, err := s.Care.Actor(s.TB.Context(), out.Owner.Session())
	check(s.TB, err)
	f := filler{site: s, db: s.Store(), actor: actor, last: tracker.DateOf(s.Clock.Now()) - 1, days: days}
	f.rounds()
	f.once()
	for i := range horses {
		horse := tracker.Horse{
			ID: tracker.HorseID(care.NewID()), Name: fmt.Sprintf("Horse %02d", i+1), Place: tracker.Here, Position: i + 1,
			Tetanus: tracker.Tetanus{Last: f.last - 30}, CreatedAt: f.at(f.last - tracker.Date(days)),
		}
		out.Horses = append(out.Horses, horse.ID)
		out.Sites = append(out.Sites, f.fill(horse)...)
	}
	return out
}

type filler struct {
	site  *Site
	db    *store.DB
	actor care.Actor
	last  tracker.Date
	days  int
}

// season is how many days are written in one transaction.
const season = 90

func (f *filler) write(do func(care.Tx) error) {
	f.site.TB.Helper()
	check(f.site.TB, f.db.Write(f.site.TB.Context(), f.actor.Yard, do))
}

// at is the morning of a day.
func (f *filler) at(day tracker.Date) time.Time { return day.Time().Add(7 * time.Hour) }

// rounds are the two of each day, done.
func (f *filler) rounds() {
	f.site.TB.Helper()
	f.write(func(tx care.Tx) error {
		for day := f.last - tracker.Date(f.days) + 1; day <= f.last; day++ {
			for _, slot := range tracker.DefaultSlots() {
				due := day.Time().Add(time.Duration(slot.At) * time.Minute)
				if err := tx.AddRound(tracker.Round{Day: day, Slot: slot.Name, DueAt: due, UseBy: due.Add(10 * time.Hour), State: tracker.RoundDone}); err != nil {
					return err
				}
			}
		}
		return nil
	})
}

func (f *filler) fill(horse tracker.Horse) []tracker.SiteID {
	f.site.TB.Helper()
	first := f.last - tracker.Date(f.days) + 1
	site := func(leg tracker.Leg, kind tracker.SiteKind) tracker.Site {
		return tracker.Site{
			ID: tracker.SiteID(care.NewID()), Horse: horse.ID, Leg: leg, Number: 1, Region: tracker.Pastern, Aspect: leg.Back(), Kind: kind,
			OpenedAt: f.at(first), OpenedBy: f.actor.Person.ID, Record: care.NewRecord(),
		}
	}
	wound, patch := site(tracker.RF, tracker.Wound), site(tracker.RH, tracker.Patch)
	f.write(func(tx care.Tx) error {
		if err := tx.AddHorse(horse); err != nil {
			return err
		}
		if err := tx.AddSite(wound, ""); err != nil {
			return err
		}
		return tx.AddSite(patch, "")
	})
	plan := f.plans(horse, first)
	for from := first; from <= f.last; from += season {
		f.write(func(tx care.Tx) error {
			for day := from; day <= min(f.last, from+season-1); day++ {
				if err := errors.Join(f.day(tx, horse, wound, patch, day), f.tick(tx, plan, day)); err != nil {
					return err
				}
			}
			return nil
		})
	}
	return []tracker.SiteID{wound.ID, patch.ID}
}

// plans are the plan that holds, changed every 18 days, as many that were stopped, and days away. It gives the plan
// that holds.
func (f *filler) plans(horse tracker.Horse, first tracker.Date) (holds tracker.Plan) {
	f.site.TB.Helper()
	step := func(kind tracker.StepKind, begins tracker.Date) tracker.PlanStep {
		return tracker.PlanStep{ID: care.NewID(), Kind: kind, Begins: begins, Phases: []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsVet}}}
	}
	version := func(of tracker.Plan, n int, starts tracker.Date) tracker.Plan {
		of.ID, of.Version, of.Starts, of.At = care.NewRecord(), n, starts, f.at(starts)
		return of
	}
	made := func(leg tracker.Leg) tracker.Plan {
		root := care.NewRecord()
		return tracker.Plan{Root: root, Horse: horse.ID, Legs: []tracker.Leg{leg}, Steps: []tracker.PlanStep{step(tracker.StepWash, first), step(tracker.StepDry, first)},
			Source: tracker.SetByVet, SetName: "Marl vets", SetOn: first, By: f.actor.Person.ID, Hash: "filled"}
	}
	holds = made(tracker.RF)
	f.write(func(tx care.Tx) error {
		n := 0
		for day := first; day <= f.last; day++ {
			if day%18 != 0 && day != first {
				continue
			}
			n++
			holds = version(holds, n, day)
			old := version(made(tracker.LF), 1, day)
			stop := version(old, 2, day+9)
			stop.Stopped, stop.Last, old.Root, stop.Root = true, day+9, old.ID, old.ID
			if n == 1 {
				holds.Root = holds.ID
			}
			if err := errors.Join(tx.AddPlan(holds), tx.AddPlan(old), tx.AddPlan(stop)); err != nil {
				return err
			}
			if day+6 >= f.last {
				continue // every horse is there today
			}
			away := tracker.Absence{ID: care.NewRecord(), Horse: horse.ID, From: day + 4, To: day + 5, By: f.actor.Person.ID, At: f.at(day), Hash: "filled"}
			if err := tx.AddAbsence(away); err != nil {
				return err
			}
		}
		return nil
	})
	return holds
}

// tick ticks a plan off on a day.
func (f *filler) tick(tx care.Tx, plan tracker.Plan, day tracker.Date) error {
	item := rounds.TaskKey(plan.Steps[0].ID, plan.Legs[0], "")
	return tx.AddTickOff(tracker.TickOff{ID: care.NewRecord(), Outcome: tracker.TickDone, Items: []string{item}, Day: day, Slot: "evening", By: f.actor.Person.ID, At: f.at(day), Hash: "filled"})
}

// once are visits of the farrier every six weeks, all of them done.
func (f *filler) once() {
	f.site.TB.Helper()
	f.write(func(tx care.Tx) error {
		for day := f.last - tracker.Date(f.days) + 1; day < f.last; day++ {
			if day%42 != 0 {
				continue
			}
			one := tracker.OneOff{ID: care.NewRecord(), Kind: tracker.FarrierComes, Day: day, What: "The farrier comes", By: f.actor.Person.ID, MadeAt: f.at(day - 7), Settled: f.at(day), Hash: "filled"}
			if err := tx.AddOneOff(one); err != nil {
				return err
			}
		}
		return nil
	})
}

// look is a check of a day's morning round, before what was seen.
func (f *filler) look(horse tracker.Horse, day tracker.Date) tracker.Check {
	id := care.NewRecord()
	return tracker.Check{
		ID: id, Root: id, Version: 1, Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: horse.ID, At: f.at(day), Day: day, ServerAt: f.at(day),
		RoundDay: day, Slot: "morning", By: f.actor.Person.ID, Looker: f.actor.Person.ID, Hash: "filled",
	}
}

func (f *filler) day(tx care.Tx, horse tracker.Horse, wound, patch tracker.Site, day tracker.Date) error {
	var looks []tracker.Check
	for _, leg := range tracker.Legs() {
		line := f.look(horse, day)
		line.Leg, line.Signs, line.Care = leg, tracker.Signs{tracker.Filling: int(day) % 3, tracker.Heat: 0, tracker.Pulse: 1, tracker.Walk: 0}, tracker.CareActs()[:2]
		looks = append(looks, line)
	}
	size := f.look(horse, day)
	size.Subject, size.Site, size.Leg, size.SkinSeen = tracker.OfSite, wound.ID, wound.Leg, true
	size.Size = tracker.Size{Answer: tracker.Measured, LengthMM: 40 + int(day)%7, WidthMM: 25 + int(day)%5, Method: tracker.Ruler}
	size.Signs = tracker.Signs{tracker.Exudate: 1, tracker.Pain: int(day) % 2}
	signs := f.look(horse, day)
	signs.Subject, signs.Site, signs.Leg, signs.Size, signs.Signs = tracker.OfSite, patch.ID, patch.Leg, tracker.Size{Answer: tracker.NotDue}, tracker.Signs{}
	for i, sign := range tracker.ActiveSigns() {
		signs.Signs[sign] = (int(day) + i) % 4
	}
	for _, c := range append(looks, size, signs) {
		if err := tx.AddCheck(c); err != nil {
			return err
		}
	}
	for _, site := range []tracker.Site{wound, patch} {
		if err := tx.SaveJudgement(tracker.Judgement{Site: site.ID, Day: day, Label: "slow", Reason: "Made up.", MadeAt: f.at(day), AreaCM2: 8, FirstCM2: 9}); err != nil {
			return err
		}
	}
	return f.seldom(tx, horse, wound, size, day)
}

// seldom adds what does not happen every day.
func (f *filler) seldom(tx care.Tx, horse tracker.Horse, wound tracker.Site, look tracker.Check, day tracker.Date) error {
	if day%7 == 0 {
		photo := tracker.Photo{
			ID: tracker.PhotoID(care.NewID()), Check: look.ID, Horse: horse.ID, Leg: wound.Leg, Site: wound.ID, At: look.At, By: look.By,
			Width: 1600, Height: 1200, ThumbW: 160, ThumbH: 120, SHA256: "filled", Posted: "filled",
		}
		if err := tx.AddPhoto(photo, []byte("a photo"), []byte("a thumbnail")); err != nil {
			return err
		}
	}
	if day%60 == 0 {
		event := tracker.Event{ID: care.NewRecord(), Kind: tracker.TreatmentChange, Horse: horse.ID, Leg: wound.Leg, Site: wound.ID, Day: day, At: look.At, By: look.By, Note: "Wash changed"}
		if err := tx.AddEvent(event); err != nil {
			return err
		}
	}
	if day%30 != 0 {
		return nil
	}
	caution := tracker.Caution{
		ID: tracker.CautionID(care.NewID()), Rule: "filled", Level: tracker.NextVisit, Horse: horse.ID, Leg: wound.Leg, Site: wound.ID,
		Seen: "Made up.", Why: "Made up.", Next: "Made up.", Numbers: map[string]string{}, Check: look.ID, Raised: look.At,
	}
	if err := tx.AddCaution(caution); err != nil {
		return err
	}
	return tx.AddAct(caution.ID, tracker.CautionAct{ID: care.NewRecord(), Kind: tracker.Rang, At: look.At, By: look.By}, true)
}
