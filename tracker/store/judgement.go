package store

import (
	"encoding/json"
	"time"

	"leground/tracker"
)

const judgementColumns = `j.site_id, j.day, j.label, j.body, j.made_at`

// judgementJSON is the stored form of a tracker.Judgement: the same fields, less those that have a
// column of their own.
type judgementJSON struct {
	Site   tracker.SiteID `json:"-"`
	Day    tracker.Date   `json:"-"`
	Label  string         `json:"-"`
	Reason string         `json:"reason,omitempty"`
	MadeAt time.Time      `json:"-"`

	HasRate     bool         `json:"has_rate,omitempty"`
	Rate        float64      `json:"rate_mm_day,omitempty"`
	Low         float64      `json:"low_mm_day,omitempty"`
	High        float64      `json:"high_mm_day,omitempty"`
	LabelLow    float64      `json:"label_low_mm_day,omitempty"`
	LabelHigh   float64      `json:"label_high_mm_day,omitempty"`
	Smallest    float64      `json:"smallest_mm_day,omitempty"`
	DaysUsed    int          `json:"days_used,omitempty"`
	SpanDays    int          `json:"span_days,omitempty"`
	Remeasure   bool         `json:"remeasure,omitempty"`
	AreaCM2     float64      `json:"area_cm2,omitempty"`
	FirstCM2    float64      `json:"first_cm2,omitempty"`
	FirstDay    tracker.Date `json:"first_day,omitempty"`
	GiveOrTake  float64      `json:"give_or_take_cm2,omitempty"`
	SlowDays    int          `json:"slow_days,omitempty"`
	OverdueTurn bool         `json:"overdue_turn,omitempty"`
	Gilman      float64      `json:"gilman_mm_day,omitempty"`
	HalfLife    float64      `json:"half_life_days,omitempty"`
	ClosesFrom  tracker.Date `json:"closes_from,omitempty"`
	ClosesTo    tracker.Date `json:"closes_to,omitempty"`

	Active        int `json:"active,omitempty"`
	ActiveJudged  int `json:"active_judged,omitempty"`
	Chronic       int `json:"chronic,omitempty"`
	ChronicJudged int `json:"chronic_judged,omitempty"`
}

func scanJudgement(r row) (tracker.Judgement, error) {
	var j judgementJSON
	var body string
	if err := r.Scan(&j.Site, asDay(&j.Day), &j.Label, &body, asInstant(&j.MadeAt)); err != nil {
		return tracker.Judgement{}, err
	}
	err := json.Unmarshal([]byte(body), &j)
	return tracker.Judgement(j), err
}

// Judgements gives the newest judgement of each site of a horse, or of every horse when horse is empty.
func (t *tx) Judgements(horse tracker.HorseID) (map[tracker.SiteID]tracker.Judgement, error) {
	narrow, args := ofHorse("s.horse_id", horse, []any{t.yard})
	return bySite(t, scanJudgement, func(j tracker.Judgement) tracker.SiteID { return j.Site },
		picked(`s.site_id, (SELECT k.day FROM judgement k WHERE k.yard_id = s.yard_id AND k.site_id = s.site_id ORDER BY k.day DESC LIMIT 1) AS day
			FROM site s WHERE s.yard_id = $1`+narrow)+
			`SELECT `+judgementColumns+` FROM picked CROSS JOIN judgement j WHERE j.yard_id = $1 AND j.site_id = picked.site_id AND j.day = picked.day`, args...)
}

// bySite reads every row of a query into a map by the site that it is of.
func bySite[T any](t *tx, scan func(row) (T, error), site func(T) tracker.SiteID, text string, args ...any) (map[tracker.SiteID]T, error) {
	found, err := list(t, scan, text, args...)
	if err != nil {
		return nil, err
	}
	out := make(map[tracker.SiteID]T, len(found))
	for _, one := range found {
		out[site(one)] = one
	}
	return out, nil
}

// JudgementsOf lists a site's judgements from a day on, oldest first.
func (t *tx) JudgementsOf(site tracker.SiteID, from tracker.Date) ([]tracker.Judgement, error) {
	return list(t, scanJudgement, `SELECT `+judgementColumns+` FROM judgement j
		WHERE j.yard_id = $1 AND j.site_id = $2 AND j.day >= $3 ORDER BY j.day`, t.yard, string(site), from.String())
}

// SaveJudgement keeps one judgement a site and day; a later one of the same day replaces it.
func (t *tx) SaveJudgement(j tracker.Judgement) error {
	return t.exec(`INSERT INTO judgement (yard_id, site_id, day, label, body, made_at) VALUES ($1, $2, $3, $4, $5, $6)
		ON CONFLICT (yard_id, site_id, day) DO UPDATE SET label = excluded.label, body = excluded.body, made_at = excluded.made_at`,
		t.yard, string(j.Site), code("day", j.Day), j.Label, asJSONText(judgementJSON(j)), ms(j.MadeAt))
}

// DropJudgements forgets a site's judgements of the days after one.
func (t *tx) DropJudgements(site tracker.SiteID, after tracker.Date) error {
	return t.exec(`DELETE FROM judgement WHERE yard_id = $1 AND site_id = $2 AND day > $3`, t.yard, string(site), after.String())
}
