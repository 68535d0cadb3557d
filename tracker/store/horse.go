package store

import "leground/tracker"

const horseColumns = `horse_id, name, sort, walking_order, order_reason, handling, isolated_until, tetanus_on, arrived_on,
	place, position, created_at, food`

func scanHorse(r row) (h tracker.Horse, err error) {
	return h, r.Scan(&h.ID, &h.Name, &h.Sort, asCode(&h.Order, tracker.ParseWalkingOrder), &h.OrderReason, &h.Handling,
		asDay(&h.IsolatedUntil), asDay(&h.Tetanus.Last), asDay(&h.Arrived), asCode(&h.Place, tracker.ParseHorsePlace),
		&h.Position, asInstant(&h.CreatedAt), asCode(&h.Food, tracker.ParseFoodChain))
}

// Horses lists the yard's horses by position, those that are gone too.
func (t *tx) Horses() ([]tracker.Horse, error) {
	return list(t, scanHorse, `SELECT `+horseColumns+` FROM horse WHERE yard_id = $1 ORDER BY position, horse_id`, t.yard)
}

// Horse finds a horse.
func (t *tx) Horse(id tracker.HorseID) (tracker.Horse, error) {
	return one(t, "horse", scanHorse, `SELECT `+horseColumns+` FROM horse WHERE yard_id = $1 AND horse_id = $2`, t.yard, string(id))
}

// AddHorse adds a horse to the yard.
func (t *tx) AddHorse(h tracker.Horse) error {
	return t.insert("horse", `yard_id, `+horseColumns, t.yard, string(h.ID), h.Name, h.Sort, orderOrNone(h.Order), h.OrderReason,
		h.Handling, h.IsolatedUntil.String(), h.Tetanus.Last.String(), h.Arrived.String(), code("place", h.Place), h.Position, ms(h.CreatedAt),
		string(h.Food))
}

// SaveHorse changes a horse.
func (t *tx) SaveHorse(h tracker.Horse) error {
	return t.change("horse", `UPDATE horse SET name = $3, sort = $4, walking_order = $5, order_reason = $6, handling = $7,
		isolated_until = $8, tetanus_on = $9, arrived_on = $10, place = $11, position = $12, food = $13
		WHERE yard_id = $1 AND horse_id = $2`,
		t.yard, string(h.ID), h.Name, h.Sort, orderOrNone(h.Order), h.OrderReason, h.Handling, h.IsolatedUntil.String(),
		h.Tetanus.Last.String(), h.Arrived.String(), code("place", h.Place), h.Position, string(h.Food))
}
