package care

import (
	"context"
	"slices"
	"time"

	"leground/tracker"
)

// SheetView is one horse's sheet for the vet: what the page, the PDF and the link show.
type SheetView struct {
	HorseView
	LastVisit tracker.Date // of the vet, within a year; zero: none
	Care      []CareCount
	Looked    int             // days of the span with a look at the horse
	Photos    []tracker.Photo // newest first, of the last SheetPhotoDays days
	Word      []tracker.Proposal
	MadeBy    string // who made it, or the link to it
}

// CareCount is how often something was done for a leg within the span.
type CareCount struct {
	Leg   tracker.Leg
	Act   tracker.CareAct
	Times int
}

// The spans of a sheet in days: what it shows, and from when photos can be picked.
const (
	SheetDays      = 28
	SheetPhotoDays = 90
	visitBack      = 365
)

// Sheet gives the vet sheet of a horse.
func (s *Service) Sheet(ctx context.Context, a Actor, id tracker.HorseID) (SheetView, error) {
	return s.sheet(ctx, a.Yard, id, a.Person.Name)
}

func (s *Service) sheet(ctx context.Context, yard tracker.YardID, id tracker.HorseID, madeBy string) (SheetView, error) {
	return reading(ctx, s, yard, func(tx Tx, now time.Time) (SheetView, error) {
		horse, err := readHorse(tx, now, id, 0, SheetDays)
		view := SheetView{HorseView: horse, MadeBy: madeBy}
		if err == nil {
			err = view.fill(tx, now)
		}
		return view, err
	})
}

func (view *SheetView) fill(tx Tx, now time.Time) error {
	events, err := tx.Events(view.Horse.ID, view.To-visitBack)
	if err != nil {
		return err
	}
	for _, e := range events {
		if e.Kind == tracker.VetVisit && e.Day <= view.To {
			view.LastVisit = e.Day
		}
	}
	view.Photos, err = tx.PhotosBetween(view.Horse.ID, now.AddDate(0, 0, -SheetPhotoDays), now.Add(time.Minute))
	slices.Reverse(view.Photos)
	for _, p := range view.Said {
		if p.State == tracker.Accepted {
			view.Word = append(view.Word, p)
		}
	}
	view.count()
	return err
}

// count tallies what was done, and on how many days somebody looked.
func (view *SheetView) count() {
	times := map[tracker.Leg]map[tracker.CareAct]int{}
	days := map[tracker.Date]bool{}
	for _, c := range Current(view.Lines) {
		if c.Outcome != tracker.Looked {
			continue
		}
		days[c.Day] = true
		for _, act := range c.Care {
			if times[c.Leg] == nil {
				times[c.Leg] = map[tracker.CareAct]int{}
			}
			times[c.Leg][act]++
		}
	}
	for _, s := range view.Sites {
		for _, c := range s.Current {
			if c.Outcome == tracker.Looked {
				days[c.Day] = true
			}
		}
	}
	view.Looked = len(days)
	for _, leg := range tracker.Legs() {
		for _, act := range tracker.CareActs() {
			if n := times[leg][act]; n > 0 {
				view.Care = append(view.Care, CareCount{leg, act, n})
			}
		}
	}
}
