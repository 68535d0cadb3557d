package store

import (
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// gate is a transaction across yards.
type gate struct{ t *tx }

// Members lists everybody who is or was in the yard, by name.
func (t *tx) Members() ([]tracker.Member, error) {
	return list(t, func(r row) (m tracker.Member, err error) {
		return m, r.Scan(&m.ID, &m.Name, &m.Email, asCode(&m.Role, tracker.ParseRole), asInstant(&m.Joined), asInstant(&m.Left))
	}, `SELECT p.person_id, p.name, p.email, m.role, m.joined_at, m.left_at
		FROM member m JOIN person p ON p.person_id = m.person_id
		WHERE m.yard_id = $1 ORDER BY p.name, p.person_id`, t.yard)
}

// SetLeft notes when a person left the yard; the zero time means that they are in it.
func (t *tx) SetLeft(person tracker.PersonID, at time.Time) error {
	return t.change("person", `UPDATE member SET left_at = $3 WHERE yard_id = $1 AND person_id = $2`, t.yard, string(person), ms(at))
}

// AddPerson adds somebody who can sign in.
func (g gate) AddPerson(p tracker.Person, passwordHash string, at time.Time) error {
	return g.t.insert("person", `person_id, name, email, password_hash, created_at`, string(p.ID), p.Name, p.Email, passwordHash, ms(at))
}

// AddMember puts a person into a yard; somebody who left is in it again, with this role.
func (g gate) AddMember(yard tracker.YardID, person tracker.PersonID, role tracker.Role, at time.Time) error {
	return g.t.exec(`INSERT INTO member (yard_id, person_id, role, joined_at, left_at) VALUES ($1, $2, $3, $4, 0)
		ON CONFLICT (yard_id, person_id) DO UPDATE SET role = excluded.role, joined_at = excluded.joined_at, left_at = 0`,
		string(yard), string(person), code("role", role), ms(at))
}

// Account finds a person by sign-in name, with their password hash and the yards they are in now.
func (g gate) Account(email string) (care.Account, error) {
	return g.account(`SELECT person_id, name, email, password_hash FROM person WHERE email = $1`, email)
}

// AccountByID is Account by the person's id.
func (g gate) AccountByID(id tracker.PersonID) (care.Account, error) {
	return g.account(`SELECT person_id, name, email, password_hash FROM person WHERE person_id = $1`, string(id))
}

func (g gate) account(text, key string) (care.Account, error) {
	found, err := one(g.t, "account", func(r row) (a care.Account, err error) {
		return a, r.Scan(&a.ID, &a.Name, &a.Email, &a.PasswordHash)
	}, text, key)
	if err != nil {
		return found, err
	}
	found.Yards, err = list(g.t, func(r row) (m care.Membership, err error) {
		return m, r.Scan(&m.Yard, &m.Name, asCode(&m.Role, tracker.ParseRole))
	}, `SELECT m.yard_id, y.name, m.role FROM member m JOIN yard y ON y.yard_id = m.yard_id
		WHERE m.person_id = $1 AND m.left_at = 0 ORDER BY m.joined_at, m.yard_id`, string(found.ID))
	return found, err
}

// Delay gives the failed sign-ins of a name and when it may next try; zeros for an unknown name.
func (g gate) Delay(email string) (failures int, notBefore time.Time, err error) {
	_, err = list(g.t, func(r row) (none struct{}, err error) { return none, r.Scan(&failures, asInstant(&notBefore)) },
		`SELECT failures, not_before FROM sign_in_delay WHERE email = $1`, email)
	return failures, notBefore, err
}

// SetDelay keeps them; no failures forget the name.
func (g gate) SetDelay(email string, failures int, notBefore time.Time) error {
	if failures == 0 {
		return g.t.exec(`DELETE FROM sign_in_delay WHERE email = $1`, email)
	}
	return g.t.exec(`INSERT INTO sign_in_delay (email, failures, not_before) VALUES ($1, $2, $3)
		ON CONFLICT (email) DO UPDATE SET failures = excluded.failures, not_before = excluded.not_before`, email, failures, ms(notBefore))
}
