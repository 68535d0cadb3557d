package store

import (
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// AddConflict keeps what was posted under a record id that already held something else; the same post
// twice is one conflict.
func (t *tx) AddConflict(c care.Conflict) error {
	return t.insertNew("yard_id, record_id, content_hash", "conflict",
		`yard_id, conflict_id, record_id, person_id, received_at, path, fields, content_hash, settled_at, settled_by`,
		t.yard, c.ID, string(c.Record), string(c.By), ms(c.Received), c.Path, mapJSON(c.Fields), c.Hash, 0, "")
}

// Conflicts lists those nobody has settled, oldest first.
func (t *tx) Conflicts() ([]care.Conflict, error) {
	return list(t, func(r row) (c care.Conflict, err error) {
		return c, r.Scan(&c.ID, &c.Record, &c.By, asInstant(&c.Received), &c.Path, asJSON(&c.Fields), &c.Hash)
	}, `SELECT conflict_id, record_id, person_id, received_at, path, fields, content_hash FROM conflict
		WHERE yard_id = $1 AND settled_at = 0 ORDER BY received_at, conflict_id`, t.yard)
}

// SettleConflict notes that somebody looked; a settled one stays as it is.
func (t *tx) SettleConflict(id string, by tracker.PersonID, at time.Time) error {
	return t.change("conflict", `UPDATE conflict SET
		settled_by = CASE WHEN settled_at = 0 THEN $3 ELSE settled_by END,
		settled_at = CASE WHEN settled_at = 0 THEN $4 ELSE settled_at END
		WHERE yard_id = $1 AND conflict_id = $2`, t.yard, id, string(by), ms(at))
}
