package store

import (
	"leground/tracker"
)

// Series gives the current looks of a site from a day on, oldest first, with only what a judgement reads:
// it is run at every save, so it leaves the rest of the row alone.
func (t *tx) Series(site tracker.SiteID, from tracker.Date, sized bool) ([]tracker.Check, error) {
	narrow := ""
	if sized {
		narrow = " AND (c.size_answer IN ('measured', 'same', 'closed') OR c.bandage)"
	}
	return list(t, func(r row) (c tracker.Check, err error) {
		c.Site = site
		return c, r.Scan(&c.ID, asCode(&c.Outcome, tracker.ParseOutcome), asInstant(&c.At), asDay(&c.Day), &c.Looker,
			asCode(&c.Size.Answer, tracker.ParseSizeAnswer), &c.Size.LengthMM, &c.Size.WidthMM, &c.Size.AreaMM2, asCode(&c.Size.Method, tracker.ParseMethod),
			&c.Scab, &c.Bandage, &c.SkinSeen, asJSON(&c.Signs))
	}, `SELECT c.record_id, c.outcome, c.seen_at, c.day, c.looker_id, c.size_answer, c.length_mm, c.width_mm, c.area_mm2, c.method,
		c.scab, c.bandage, c.skin_seen, c.signs FROM leg_check c
		WHERE c.yard_id = $1 AND c.site_id = $2 AND c.day >= $3`+narrow+current("c")+` ORDER BY c.day, c.seen_at, c.root_id`,
		t.yard, string(site), from.String())
}
