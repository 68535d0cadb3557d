package store

import (
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// selectSession reads sessions with their person's present role; somebody who has left has none.
const selectSession = `SELECT s.session_id, s.yard_id, p.person_id, p.name, p.email, m.role, s.device, s.created_at, s.seen_at
	FROM session s
	JOIN member m ON m.yard_id = s.yard_id AND m.person_id = s.person_id AND m.left_at = 0
	JOIN person p ON p.person_id = s.person_id `

func scanSession(r row) (s care.Session, err error) {
	return s, r.Scan(&s.ID, &s.Yard, &s.Person.ID, &s.Person.Name, &s.Person.Email, asCode(&s.Role, tracker.ParseRole),
		&s.Device, asInstant(&s.Created), asInstant(&s.Seen))
}

// Sessions lists a person's running sessions in this yard, last seen first.
func (t *tx) Sessions(person tracker.PersonID) ([]care.Session, error) {
	return list(t, scanSession, selectSession+`WHERE s.yard_id = $1 AND s.person_id = $2 AND s.ended_at = 0
		ORDER BY s.seen_at DESC, s.session_id`, t.yard, string(person))
}

// EndSession ends a running session of the yard; one that has ended stays as it is.
func (t *tx) EndSession(id string, at time.Time) error {
	return t.change("session", `UPDATE session SET ended_at = CASE WHEN ended_at = 0 THEN $3 ELSE ended_at END
		WHERE yard_id = $1 AND session_id = $2`, t.yard, id, ms(at))
}

// AddSession starts a session of a member.
func (g gate) AddSession(s care.Session, tokenHash string) error {
	return g.t.insert("session", `token_hash, session_id, yard_id, person_id, device, created_at, seen_at, ended_at`,
		tokenHash, s.ID, string(s.Yard), string(s.Person.ID), s.Device, ms(s.Created), ms(s.Seen), 0)
}

// SessionByToken finds a running session, with its person's present role in its yard.
func (g gate) SessionByToken(tokenHash string) (care.Session, error) {
	return one(g.t, "session", scanSession, selectSession+`WHERE s.token_hash = $1 AND s.ended_at = 0`, tokenHash)
}

// SetSeen notes when a session was last used.
func (g gate) SetSeen(sessionID string, at time.Time) error {
	return g.t.change("session", `UPDATE session SET seen_at = $2 WHERE session_id = $1`, sessionID, ms(at))
}

// EndSessionByToken ends the session with this token hash, if it runs.
func (g gate) EndSessionByToken(tokenHash string, at time.Time) error {
	return g.t.exec(`UPDATE session SET ended_at = $2 WHERE token_hash = $1 AND ended_at = 0`, tokenHash, ms(at))
}

const linkColumns = `token_hash, link_id, kind, yard_id, person_id, role, horse_id, note, made_by, made_at, expires_at,
	opened_at, used_at, stopped_at, photos`

func scanLink(r row) (l care.Link, err error) {
	return l, r.Scan(&l.TokenHash, &l.ID, &l.Kind, &l.Yard, &l.Person, asCode(&l.Role, tracker.ParseRole), &l.Horse, &l.Note,
		&l.MadeBy, asInstant(&l.MadeAt), asInstant(&l.ExpiresAt), asInstant(&l.OpenedAt), asInstant(&l.UsedAt), asInstant(&l.StoppedAt), asJSON(&l.Photos))
}

func (t *tx) addLink(l care.Link) error {
	return t.insert("link", linkColumns, l.TokenHash, l.ID, string(l.Kind), string(l.Yard), string(l.Person), codeOrNone("role", l.Role),
		string(l.Horse), l.Note, string(l.MadeBy), ms(l.MadeAt), ms(l.ExpiresAt), ms(l.OpenedAt), ms(l.UsedAt), ms(l.StoppedAt), listJSON(l.Photos))
}

// AddLink adds a link of this yard.
func (t *tx) AddLink(l care.Link) error {
	if string(l.Yard) != t.yard {
		return missing("yard")
	}
	return t.addLink(l)
}

// Links lists the yard's links that are neither used, stopped nor expired at an instant, newest first.
func (t *tx) Links(at time.Time) ([]care.Link, error) {
	return list(t, scanLink, `SELECT `+linkColumns+` FROM link
		WHERE yard_id = $1 AND used_at = 0 AND stopped_at = 0 AND expires_at > $2 ORDER BY made_at DESC, link_id`, t.yard, ms(at))
}

// StopLink stops a link of the yard for good.
func (t *tx) StopLink(id string, at time.Time) error {
	return t.change("link", `UPDATE link SET stopped_at = CASE WHEN stopped_at = 0 THEN $3 ELSE stopped_at END
		WHERE yard_id = $1 AND link_id = $2`, t.yard, id, ms(at))
}

// AddLink adds a link of any yard, or of none yet.
func (g gate) AddLink(l care.Link) error { return g.t.addLink(l) }

// LinkByToken finds a link by the hash of its secret, whether it still acts or not.
func (g gate) LinkByToken(tokenHash string) (care.Link, error) {
	return one(g.t, "link", scanLink, `SELECT `+linkColumns+` FROM link WHERE token_hash = $1`, tokenHash)
}

// SetLinkOpened notes when a link was last opened.
func (g gate) SetLinkOpened(id string, at time.Time) error {
	return g.t.change("link", `UPDATE link SET opened_at = $2 WHERE link_id = $1`, id, ms(at))
}

// SetLinkUsed uses a link up. It can be done once: the second to try finds no such link.
func (g gate) SetLinkUsed(id string, at time.Time) error {
	return g.t.change("link", `UPDATE link SET used_at = $2 WHERE link_id = $1 AND used_at = 0`, id, ms(at))
}
