package care

import (
	"context"
	"time"

	"leground/tracker"
)

// StripView is every photo of one site.
type StripView struct {
	Yard   tracker.Yard
	Zone   *time.Location
	Horse  tracker.Horse
	Site   tracker.Site
	Photos []tracker.Photo // oldest first
	People map[tracker.PersonID]string
}

// Strip gives the photos of a site, from oldest to newest.
func (s *Service) Strip(ctx context.Context, a Actor, horse tracker.HorseID, id tracker.SiteID) (StripView, error) {
	view := StripView{People: map[tracker.PersonID]string{}}
	err := s.store.Read(ctx, a.Yard, func(tx Tx) (err error) {
		if view.Site, err = tx.Site(id); err != nil {
			return err
		}
		if view.Site.Horse != horse {
			return tracker.Refuse(tracker.NotFound, "This horse has no such site. Go back to its page.")
		}
		if view.Horse, err = tx.Horse(horse); err != nil {
			return err
		}
		if view.Yard, err = tx.Yard(); err != nil {
			return err
		}
		if view.Zone, err = location(view.Yard); err != nil {
			return err
		}
		if view.Photos, err = tx.PhotosOfSite(id); err != nil {
			return err
		}
		people, err := tx.Members()
		for _, p := range people {
			view.People[p.ID] = p.Name
		}
		return err
	})
	return view, err
}
