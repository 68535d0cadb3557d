package store

import (
	"time"

	"leground/tracker"
)

const photoColumns = `p.photo_id, p.record_id, p.horse_id, p.leg, p.site_id, p.taken_at, p.person_id, p.width, p.height,
	p.thumb_width, p.thumb_height, p.sha256, p.posted_sha256`

func scanPhoto(r row) (p tracker.Photo, err error) {
	return p, r.Scan(&p.ID, &p.Check, &p.Horse, asCode(&p.Leg, tracker.ParseLeg), asWord(&p.Site), asInstant(&p.At), &p.By,
		&p.Width, &p.Height, &p.ThumbW, &p.ThumbH, &p.SHA256, &p.Posted)
}

// AddPhoto adds a picture with its bytes and its thumbnail's.
func (t *tx) AddPhoto(p tracker.Photo, full, thumb []byte) error {
	err := t.insert("photo", `yard_id, photo_id, record_id, horse_id, leg, site_id, taken_at, person_id, width, height,
		thumb_width, thumb_height, sha256, posted_sha256`,
		t.yard, string(p.ID), string(p.Check), string(p.Horse), codeOrNone("leg", p.Leg), orNull(p.Site), ms(p.At), string(p.By),
		p.Width, p.Height, p.ThumbW, p.ThumbH, p.SHA256, p.Posted)
	if err != nil {
		return err
	}
	return t.insert("photo_bytes", `yard_id, photo_id, full_jpeg, thumb_jpeg`, t.yard, string(p.ID), full, thumb)
}

// Photo finds a picture, without its bytes.
func (t *tx) Photo(id tracker.PhotoID) (tracker.Photo, error) {
	return one(t, "photo", scanPhoto, `SELECT `+photoColumns+` FROM photo p WHERE p.yard_id = $1 AND p.photo_id = $2`, t.yard, string(id))
}

// PhotoBytes gives the JPEG, or its thumbnail.
func (t *tx) PhotoBytes(id tracker.PhotoID, thumb bool) ([]byte, error) {
	text := `SELECT full_jpeg FROM photo_bytes WHERE yard_id = $1 AND photo_id = $2`
	if thumb {
		text = `SELECT thumb_jpeg FROM photo_bytes WHERE yard_id = $1 AND photo_id = $2`
	}
	return one(t, "photo", func(r row) (data []byte, err error) { return data, r.Scan(&data) }, text, t.yard, string(id))
}

// LastPhotos gives each site's newest photo, of one horse or of every horse, by one seek in an index a site.
func (t *tx) LastPhotos(horse tracker.HorseID) (map[tracker.SiteID]tracker.Photo, error) {
	narrow, args := ofHorse("s.horse_id", horse, []any{t.yard})
	return bySite(t, scanPhoto, func(p tracker.Photo) tracker.SiteID { return p.Site },
		picked(`(SELECT k.photo_id FROM photo k WHERE k.yard_id = s.yard_id AND k.site_id = s.site_id
			ORDER BY k.taken_at DESC, k.photo_id DESC LIMIT 1) AS photo_id FROM site s WHERE s.yard_id = $1`+narrow)+
			`SELECT `+photoColumns+` FROM picked CROSS JOIN photo p WHERE p.yard_id = $1 AND p.photo_id = picked.photo_id`, args...)
}

// PhotosOfSite lists a site's photos, oldest first.
func (t *tx) PhotosOfSite(site tracker.SiteID) ([]tracker.Photo, error) {
	return list(t, scanPhoto, `SELECT `+photoColumns+` FROM photo p WHERE p.yard_id = $1 AND p.site_id = $2
		ORDER BY p.taken_at, p.photo_id`, t.yard, string(site))
}

// PhotosBetween lists a horse's photos taken from an instant up to, not including, another, oldest first.
func (t *tx) PhotosBetween(horse tracker.HorseID, from, to time.Time) ([]tracker.Photo, error) {
	return list(t, scanPhoto, `SELECT `+photoColumns+` FROM photo p WHERE p.yard_id = $1 AND p.horse_id = $2
		AND p.taken_at >= $3 AND p.taken_at < $4 ORDER BY p.taken_at, p.photo_id`, t.yard, string(horse), ms(from), ms(to))
}
