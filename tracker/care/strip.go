package care

import (
	"context"

	"leground/tracker"
)

// StripView is every photo of one site.
type StripView struct {
	Moment
	Horse  tracker.Horse
	Site   tracker.Site
	Photos []tracker.Photo // oldest first
	People map[tracker.PersonID]string
}

// Strip gives the photos of a site, from oldest to newest.
func (s *Service) Strip(ctx context.Context, a Actor, horse tracker.HorseID, id tracker.SiteID) (StripView, error) {
	var view StripView
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
		if view.Moment, err = momentOf(tx, s.now()); err != nil {
			return err
		}
		if view.Photos, err = tx.PhotosOfSite(id); err != nil {
			return err
		}
		view.People, err = names(tx)
		return err
	})
	return view, err
}
