package care

import (
	"cmp"
	"context"
	"time"

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
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view StripView, err error) {
		var errs [5]error
		if view.Site, errs[0] = tx.Site(id); errs[0] == nil && view.Site.Horse != horse {
			errs[0] = tracker.Refuse(tracker.NotFound, "This horse has no such site. Go back to its page.")
		}
		view.Horse, errs[1] = tx.Horse(horse)
		view.Moment, errs[2] = momentOf(tx, now)
		view.Photos, errs[3] = tx.PhotosOfSite(id)
		view.People, errs[4] = names(tx)
		return view, cmp.Or(errs[:]...)
	})
}
