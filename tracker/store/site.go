package store

import (
	"strconv"

	"leground/tracker"
)

const siteColumns = `s.site_id, s.horse_id, s.leg, s.number, s.region, s.aspect, s.kind, s.onset_on, s.opened_at, s.opened_by,
	s.record_id, s.closed_on, s.joined_site`

const selectSite = `SELECT ` + siteColumns + ` FROM site s WHERE s.yard_id = $1 AND s.site_id = $2`

func siteFields(s *tracker.Site) []any {
	return []any{&s.ID, &s.Horse, asCode(&s.Leg, tracker.ParseLeg), &s.Number, asCode(&s.Region, tracker.ParseRegion),
		asCode(&s.Aspect, tracker.ParseAspect), asCode(&s.Kind, tracker.ParseSiteKind), asDay(&s.Onset), asInstant(&s.OpenedAt),
		&s.OpenedBy, &s.Record, asDay(&s.ClosedOn), &s.Joined}
}

func scanSite(r row) (s tracker.Site, err error) { return s, r.Scan(siteFields(&s)...) }

// ofHorse narrows a query to one horse by a column of it; an empty horse narrows nothing.
func ofHorse(column string, horse tracker.HorseID, args []any) (string, []any) {
	if horse == "" {
		return "", args
	}
	return " AND " + column + " = $" + strconv.Itoa(len(args)+1), append(args, string(horse))
}

// legPlace sorts legs in the default walking order.
const legPlace = `CASE s.leg WHEN 'LF' THEN 1 WHEN 'RF' THEN 2 WHEN 'RH' THEN 3 ELSE 4 END`

// Sites lists the sites of one horse, or of every horse when horse is empty, by horse, leg and number;
// closed and joined ones too.
func (t *tx) Sites(horse tracker.HorseID) ([]tracker.Site, error) {
	narrow, args := ofHorse("s.horse_id", horse, []any{t.yard})
	return list(t, scanSite, `SELECT `+siteColumns+` FROM site s WHERE s.yard_id = $1`+narrow+`
		ORDER BY s.horse_id, `+legPlace+`, s.number`, args...)
}

// Site finds a site.
func (t *tx) Site(id tracker.SiteID) (tracker.Site, error) {
	return one(t, "site", scanSite, selectSite, t.yard, string(id))
}

// SiteByRecord finds the site that a form made, and the hash of what it was made from.
func (t *tx) SiteByRecord(id tracker.RecordID) (tracker.Site, string, error) {
	var hash string
	site, err := one(t, "site", func(r row) (s tracker.Site, err error) { return s, r.Scan(append(siteFields(&s), &hash)...) },
		`SELECT `+siteColumns+`, s.content_hash FROM site s WHERE s.yard_id = $1 AND s.record_id = $2`, t.yard, string(id))
	return site, hash, err
}

// NextSiteNumber gives the number that the leg's next site gets; numbers are never used again.
func (t *tx) NextSiteNumber(horse tracker.HorseID, leg tracker.Leg) (int, error) {
	return one(t, "leg", func(r row) (n int, err error) { return n, r.Scan(&n) },
		`SELECT coalesce(max(number), 0) + 1 FROM site WHERE yard_id = $1 AND horse_id = $2 AND leg = $3`,
		t.yard, string(horse), code("leg", leg))
}

// AddSite adds a site that a form made, with the hash of what it was made from.
func (t *tx) AddSite(s tracker.Site, hash string) error {
	return t.insert("site", `yard_id, site_id, horse_id, leg, number, region, aspect, kind, onset_on, opened_at, opened_by,
		record_id, closed_on, joined_site, content_hash`,
		t.yard, string(s.ID), string(s.Horse), code("leg", s.Leg), s.Number, code("region", s.Region), code("aspect", s.Aspect),
		code("kind of site", s.Kind), s.Onset.String(), ms(s.OpenedAt), string(s.OpenedBy), string(s.Record), s.ClosedOn.String(),
		string(s.Joined), hash)
}

// SaveSite changes where a site is said to be, how it is judged and whether it is open. Its horse, leg,
// number and form stay.
func (t *tx) SaveSite(s tracker.Site) error {
	return t.change("site", `UPDATE site SET region = $3, aspect = $4, kind = $5, onset_on = $6, closed_on = $7, joined_site = $8
		WHERE yard_id = $1 AND site_id = $2`,
		t.yard, string(s.ID), code("region", s.Region), code("aspect", s.Aspect), code("kind of site", s.Kind),
		s.Onset.String(), s.ClosedOn.String(), string(s.Joined))
}
