package store

import "leground/tracker"

const eventColumns = `record_id, kind, horse_id, leg, site_id, day, at, person_id, note, tick_record, content_hash`

func scanEvent(r row) (e tracker.Event, err error) {
	return e, r.Scan(&e.ID, asKnown("kind of event", &e.Kind), &e.Horse, asCode(&e.Leg, tracker.ParseLeg), asWord(&e.Site),
		asDay(&e.Day), asInstant(&e.At), &e.By, &e.Note, &e.Tick, &e.Hash)
}

// Events lists events from a day on, oldest first, of one horse or of every horse; none of a tick that was taken back.
func (t *tx) Events(horse tracker.HorseID, from tracker.Date) ([]tracker.Event, error) {
	narrow, args := ofHorse("horse_id", horse, []any{t.yard, from.String()})
	return list(t, scanEvent, `SELECT `+eventColumns+` FROM event WHERE yard_id = $1 AND day >= $2`+narrow+`
		AND (tick_record = '' OR NOT EXISTS (SELECT 1 FROM tick_off t WHERE t.yard_id = event.yard_id AND t.of_record = event.tick_record AND t.of_record <> ''))
		ORDER BY day, at, record_id`, args...)
}

// EventByRecord finds the event that a form made.
func (t *tx) EventByRecord(id tracker.RecordID) (tracker.Event, error) {
	return one(t, "event", scanEvent, `SELECT `+eventColumns+` FROM event WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id))
}

// AddEvent adds an event.
func (t *tx) AddEvent(e tracker.Event) error {
	return t.insert("event", `yard_id, `+eventColumns, t.yard, string(e.ID), known("kind of event", e.Kind), string(e.Horse), codeOrNone("leg", e.Leg),
		orNull(e.Site), code("day", e.Day), ms(e.At), string(e.By), e.Note, string(e.Tick), e.Hash)
}

// LastReset gives the day of the newest resetting event on a site, its whole leg or its whole horse, or of
// another site's joining it, up to a day; zero when there is none.
func (t *tx) LastReset(site tracker.Site, upTo tracker.Date) (day tracker.Date, err error) {
	_, err = list(t, func(r row) (none struct{}, err error) {
		var joined tracker.Date
		err = r.Scan(asDay(&day), asDay(&joined))
		day = max(day, joined)
		return none, err
	}, `SELECT coalesce((SELECT day FROM event WHERE yard_id = $1 AND horse_id = $2 AND day <= $3
			AND kind IN ('debridement', 'clipping', 'crusts-removed', 'new-injury', 'method-change', 'reopened')
			AND (site_id = $4 OR site_id IS NULL AND leg IN ('', $5))
			ORDER BY day DESC LIMIT 1), ''),
		coalesce((SELECT day FROM event WHERE yard_id = $1 AND kind = 'joined' AND note = $4 AND day <= $3
			ORDER BY day DESC LIMIT 1), '')`,
		t.yard, string(site.Horse), upTo.String(), string(site.ID), code("leg", site.Leg))
	return day, err
}
