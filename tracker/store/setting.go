package store

import (
	"strconv"

	"leground/tracker"
)

const settingColumns = `record_id, kind, rule, site_id, is_off, numbers, word_of, why, day, at, person_id, content_hash`

func scanSetting(r row) (s tracker.Setting, err error) {
	return s, r.Scan(&s.ID, asKnown("kind of setting", &s.Kind), &s.Rule, asWord(&s.Site), &s.Off, asJSON(&s.Values), &s.WordOf, &s.Why,
		asDay(&s.Day), asInstant(&s.At), &s.By, &s.Hash)
}

// Settings lists what is in force: the newest of each kind, rule and site, oldest first.
func (t *tx) Settings() ([]tracker.Setting, error) {
	return list(t, scanSetting, `SELECT `+settingColumns+` FROM setting WHERE yard_id = $1 AND replaced_at = 0 ORDER BY at, record_id`, t.yard)
}

// SettingHistory lists the newest changes, at most so many, newest first.
func (t *tx) SettingHistory(most int) ([]tracker.Setting, error) {
	return list(t, scanSetting, `SELECT `+settingColumns+` FROM setting WHERE yard_id = $1
		ORDER BY at DESC, record_id DESC LIMIT `+strconv.Itoa(most), t.yard)
}

// SettingByRecord finds the change that a form made.
func (t *tx) SettingByRecord(id tracker.RecordID) (tracker.Setting, error) {
	return one(t, "setting", scanSetting, `SELECT `+settingColumns+` FROM setting WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id))
}

// AddSetting adds a change, which is in force from now on in place of the one before it.
func (t *tx) AddSetting(s tracker.Setting) error {
	err := t.exec(`UPDATE setting SET replaced_at = $2 WHERE yard_id = $1 AND replaced_at = 0 AND kind = $3 AND rule = $4
		AND coalesce(site_id, '') = $5`, t.yard, ms(s.At), string(s.Kind), s.Rule, string(s.Site))
	if err != nil {
		return err
	}
	return t.insert("setting", `yard_id, `+settingColumns+`, replaced_at`, t.yard, string(s.ID), known("kind of setting", s.Kind), s.Rule, orNull(s.Site), s.Off,
		mapJSON(s.Values), s.WordOf, s.Why, code("day", s.Day), ms(s.At), string(s.By), s.Hash, 0)
}
