package store

import (
	"strconv"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

const checkColumns = `c.record_id, c.root_id, c.version, c.subject, c.outcome, c.horse_id, c.leg, c.site_id, c.seen_at, c.day,
	c.device_at, c.server_at, c.written_at, c.clock_off, c.round_day, c.slot, c.person_id, c.looker_id,
	c.size_answer, c.length_mm, c.width_mm, c.area_mm2, c.depth_mm, c.bed, c.bed_mm, c.method,
	c.scab, c.bandage, c.hair, c.clipped, c.sedated, c.skin_seen, c.signs, c.dangers, c.flags, c.care, c.vitals,
	c.skip_reason, c.note, c.content_hash, c.blind_of`

// vitalsJSON is the stored form of tracker.Vitals.
type vitalsJSON struct {
	TemperatureTenthsC int    `json:"temperature_tenths_c,omitempty"`
	PulsePerMinute     int    `json:"pulse_per_minute,omitempty"`
	BreathsPerMinute   int    `json:"breaths_per_minute,omitempty"`
	RefillTenthsSecond int    `json:"refill_tenths_s,omitempty"`
	Gums               string `json:"gums,omitempty"`
	NoGutSounds        bool   `json:"no_gut_sounds,omitempty"`
	LabouredBreathing  bool   `json:"laboured_breathing,omitempty"`
	RestedMinutes      int    `json:"rested_minutes,omitempty"`
	WeightKG           int    `json:"weight_kg,omitempty"`
	ConditionHalves    int    `json:"condition_halves,omitempty"`
	GirthMM            [4]int `json:"girth_mm,omitzero"`
}

func scanCheck(r row) (c tracker.Check, err error) {
	var vitals vitalsJSON
	var clockOff int64
	err = r.Scan(&c.ID, &c.Root, &c.Version, asCode(&c.Subject, tracker.ParseSubject), asCode(&c.Outcome, tracker.ParseOutcome),
		&c.Horse, asCode(&c.Leg, tracker.ParseLeg), asWord(&c.Site), asInstant(&c.At), asDay(&c.Day),
		asInstant(&c.DeviceAt), asInstant(&c.ServerAt), asInstant(&c.WrittenAt), &clockOff, asDay(&c.RoundDay), &c.Slot, &c.By, &c.Looker,
		asCode(&c.Size.Answer, tracker.ParseSizeAnswer), &c.Size.LengthMM, &c.Size.WidthMM, &c.Size.AreaMM2, &c.Size.DepthMM,
		asCode(&c.Bed, tracker.ParseBed), &c.Size.BedMM, asCode(&c.Size.Method, tracker.ParseMethod),
		&c.Scab, &c.Bandage, &c.Hair, &c.Clipped, &c.Sedated, &c.SkinSeen,
		asJSON(&c.Signs), asJSON(&c.Dangers), asJSON(&c.Flags), asJSON(&c.Care), asJSON(&vitals),
		&c.Skip, &c.Note, &c.Hash, &c.Blind)
	c.ClockOff = time.Duration(clockOff) * time.Millisecond
	c.Vitals = tracker.Vitals(vitals)
	return c, err
}

// AddCheck adds a version. It is the only way in which checks change.
func (t *tx) AddCheck(c tracker.Check) error {
	return t.insert("leg_check", `yard_id, `+strings.ReplaceAll(checkColumns, "c.", ""), t.yard,
		string(c.ID), string(c.Root), c.Version, code("subject", c.Subject), code("outcome", c.Outcome),
		string(c.Horse), codeOrNone("leg", c.Leg), orNull(c.Site), ms(c.At), code("day", c.Day),
		ms(c.DeviceAt), ms(c.ServerAt), ms(c.WrittenAt), c.ClockOff.Milliseconds(), c.RoundDay.String(), c.Slot, string(c.By), string(c.Looker),
		codeOrNone("answer about the size", c.Size.Answer), c.Size.LengthMM, c.Size.WidthMM, c.Size.AreaMM2, c.Size.DepthMM,
		codeOrNone("bed level", c.Bed), c.Size.BedMM, codeOrNone("method", c.Size.Method),
		c.Scab, c.Bandage, c.Hair, c.Clipped, c.Sedated, c.SkinSeen,
		mapJSON(c.Signs), listJSON(c.Dangers), listJSON(c.Flags), listJSON(c.Care), asJSONText(vitalsJSON(c.Vitals)),
		c.Skip, c.Note, c.Hash, string(c.Blind))
}

// current keeps, of a table of checks, the newest version of each that was not taken back. A scalar subquery
// is one seek a row; for a NOT EXISTS, PostgreSQL may read every check of the yard, and an = it takes to be rare.
func current(table string) string {
	return strings.ReplaceAll(` AND c.outcome <> 'retracted' AND c.version >=
		(SELECT max(n.version) FROM leg_check n WHERE n.yard_id = c.yard_id AND n.root_id = c.root_id)`, "c.", table+".")
}

// picked begins a query that first finds keys and then the rows under them. In one step PostgreSQL reads every row of
// the yard: under row security it takes no key out of a subquery, which might tell of rows that are not to be seen.
func picked(keys string) string { return `WITH picked AS MATERIALIZED (SELECT ` + keys + `) ` }

// Checks lists checks as the query says.
func (t *tx) Checks(q care.CheckQuery) ([]tracker.Check, error) {
	text, args := `SELECT `+checkColumns+` FROM leg_check c WHERE c.yard_id = $1`, []any{t.yard}
	narrow := func(condition string, arg any) {
		args = append(args, arg)
		text += " AND " + condition + " $" + strconv.Itoa(len(args))
	}
	if q.Horse != "" {
		narrow("c.horse_id =", string(q.Horse))
	}
	if q.Site != "" {
		narrow("c.site_id =", string(q.Site))
	}
	if q.Whole {
		text += ` AND c.subject = 'horse'` // in the text: the index of these few holds it too
	}
	if q.From != 0 {
		narrow("c.day >=", q.From.String())
	}
	if q.To != 0 {
		narrow("c.day <=", q.To.String())
	}
	if q.RoundDay != 0 {
		narrow("c.round_day =", q.RoundDay.String())
		narrow("c.slot =", q.Slot)
	}
	if !q.Before.IsZero() {
		narrow("c.seen_at <", ms(q.Before))
		// No zone is more than a day ahead of UTC: this lets the index skip all later days.
		narrow("c.day <=", (tracker.DateOf(q.Before.UTC()) + 1).String())
	}
	if !q.All {
		text += current("c")
	}
	if q.Limit > 0 {
		// The number stands in the text: PostgreSQL plans once for all arguments, and must know that few are wanted.
		text += " ORDER BY c.day DESC, c.seen_at DESC, c.root_id DESC, c.version DESC LIMIT " + strconv.Itoa(q.Limit)
	} else if q.RoundDay != 0 {
		text += " ORDER BY c.seen_at, c.root_id, c.version" // by day first would lure SQLite to the wrong index
	} else {
		text += " ORDER BY c.day, c.seen_at, c.root_id, c.version"
	}
	return list(t, scanCheck, text, args...)
}

// Ground gives what a check stands on before it is kept.
func (t *tx) Ground(c tracker.Check) (g care.Ground, err error) {
	var horse bool
	var yards []tracker.Yard
	var sites []tracker.Site
	beside, args := t.beside(c)
	ask(t, &yards, func(r row) (tracker.Yard, error) {
		return scanYard(wider{r, []any{asInstant(&g.WakeAt), &g.Known, &horse, &g.Takes, asInstant(&g.UseBy), &g.Beside}})
	}, `SELECT `+yardColumns+`, wake_at, EXISTS (SELECT 1 FROM leg_check WHERE yard_id = $1 AND record_id = $7),
		EXISTS (SELECT 1 FROM horse WHERE yard_id = $1 AND horse_id = $6),
		EXISTS (SELECT 1 FROM plan WHERE yard_id = $1 AND horse_id = $6 AND takes),
		coalesce((SELECT use_by FROM round WHERE yard_id = $1 AND day = $2 AND slot = $3), 0),
		EXISTS (SELECT 1 FROM leg_check c WHERE `+beside+`) FROM yard WHERE yard_id = $1`, append(args, string(c.Horse), string(c.ID))...)
	if c.Subject == tracker.OfSite {
		ask(t, &sites, scanSite, selectSite, t.yard, string(c.Site))
	}
	if err := t.answers(); err != nil {
		return g, err
	}
	switch {
	case len(yards) == 0:
		return g, missing("yard")
	case g.Known:
	case c.Subject == tracker.OfSite && len(sites) == 0:
		return g, missing("site")
	case c.Subject != tracker.OfSite && !horse:
		return g, missing("horse")
	}
	g.Yard = yards[0]
	g.Beside = g.Beside && c.Slot != ""
	for _, s := range sites {
		g.Site = s
	}
	return g, nil
}

// InRound gives the other current looks at what a check is about in its round.
func (t *tx) InRound(c tracker.Check) ([]tracker.Check, error) {
	if c.Slot == "" {
		return nil, nil
	}
	beside, args := t.beside(c)
	if c.Subject != tracker.OfSite {
		args = append(args, string(c.Horse))
	}
	return list(t, scanCheck, `SELECT `+checkColumns+` FROM leg_check c WHERE `+beside+` ORDER BY c.seen_at, c.root_id`, args...)
}

// beside is the condition that c is another current look at what a check is about in its round, and its first five
// arguments; of a check that is not of a site, the horse is the sixth. A site's horse and leg, by which the index leads to
// the look, need not be known yet.
func (t *tx) beside(check tracker.Check) (condition string, args []any) {
	condition = `c.yard_id = $1 AND c.round_day = $2 AND c.slot = $3 AND c.root_id <> $4 AND c.subject = '` + check.Subject.String() + `'`
	args = []any{t.yard, check.RoundDay.String(), check.Slot, string(check.Root)}
	if check.Subject == tracker.OfSite {
		const of = ` FROM site s WHERE s.yard_id = $1 AND s.site_id = $5)`
		return condition + ` AND c.horse_id = (SELECT s.horse_id` + of + ` AND c.leg = (SELECT s.leg` + of + ` AND c.site_id = $5` + current("c"),
			append(args, string(check.Site))
	}
	return condition + ` AND c.leg = $5 AND c.horse_id = $6` + current("c"), append(args, codeOrNone("leg", check.Leg))
}

// CheckByRecord finds one version by its own id, current or not.
func (t *tx) CheckByRecord(id tracker.RecordID) (tracker.Check, error) {
	return one(t, "check", scanCheck, `SELECT `+checkColumns+` FROM leg_check c WHERE c.yard_id = $1 AND c.record_id = $2`, t.yard, string(id))
}

// Versions lists every version of a check by its root, oldest first.
func (t *tx) Versions(root tracker.RecordID) ([]tracker.Check, error) {
	return list(t, scanCheck, `SELECT `+checkColumns+` FROM leg_check c WHERE c.yard_id = $1 AND c.root_id = $2 ORDER BY c.version`,
		t.yard, string(root))
}

// FirstSizes gives, for each site of a horse or of every horse, the oldest current check with a length and a width.
func (t *tx) FirstSizes(horse tracker.HorseID) (map[tracker.SiteID]tracker.Check, error) {
	return t.endOfEachSite(horse, "k.size_answer IN ('measured', 'same')", "k.day, k.seen_at, k.record_id", "")
}

// LastSizes gives, for each site, the newest current check with a length and a width.
func (t *tx) LastSizes(horse tracker.HorseID) (map[tracker.SiteID]tracker.Check, error) {
	return t.endOfEachSite(horse, "k.size_answer IN ('measured', 'same')", "k.day DESC, k.seen_at DESC, k.record_id DESC", "")
}

// LastLooks gives, for each open site, the newest current check that looked at it; a blind second reading is
// of a size only and no look.
func (t *tx) LastLooks(horse tracker.HorseID) (map[tracker.SiteID]tracker.Check, error) {
	return t.endOfEachSite(horse, "k.outcome = 'looked' AND k.blind_of = ''", "k.day DESC, k.seen_at DESC, k.record_id DESC",
		" AND s.closed_on = '' AND s.joined_site = ''")
}

// endOfEachSite finds each site's first current check of a kind in an order, by one seek in an index a
// site, however long its history is. (A CROSS JOIN is an ordinary one to PostgreSQL; SQLite takes its left side
// first.)
func (t *tx) endOfEachSite(horse tracker.HorseID, kind, order, sites string) (map[tracker.SiteID]tracker.Check, error) {
	narrow, args := ofHorse("s.horse_id", horse, []any{t.yard})
	return bySite(t, scanCheck, func(c tracker.Check) tracker.SiteID { return c.Site },
		picked(`(SELECT k.record_id FROM leg_check k WHERE k.yard_id = s.yard_id AND k.site_id = s.site_id AND `+kind+current("k")+`
			ORDER BY `+order+` LIMIT 1) AS record_id FROM site s WHERE s.yard_id = $1`+sites+narrow)+
			`SELECT `+checkColumns+` FROM picked CROSS JOIN leg_check c WHERE c.yard_id = $1 AND c.record_id = picked.record_id`, args...)
}
