package store

import (
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// productJSON is the stored form of a tracker.ProductFacts.
type productJSON struct {
	Form             string               `json:"form"`
	Weakest          tracker.StrengthText `json:"weakest,omitempty"`
	Strongest        tracker.StrengthText `json:"strongest,omitempty"`
	Density          tracker.FractionText `json:"density_g_ml,omitempty"`
	IodineFactor     tracker.FractionText `json:"iodine_factor,omitempty"`
	InUseDays        int                  `json:"in_use_days,omitempty"`
	MixHours         int                  `json:"mix_hours,omitempty"`
	MixHoursBy       string               `json:"mix_hours_by,omitempty"`
	Cautions         []string             `json:"cautions,omitempty"`
	Prescription     bool                 `json:"prescription,omitempty"`
	FoodNote         string               `json:"food_note,omitempty"`
	ConcentrateFirst bool                 `json:"concentrate_first,omitempty"`
	BleachDoubt      string               `json:"bleach_doubt,omitempty"`
	DeliveryDays     int                  `json:"delivery_days,omitempty"`
	MostCM2          tracker.FractionText `json:"most_cm2,omitempty"`
	StripGrams       tracker.FractionText `json:"strip_g_100mm,omitempty"`
}

// mixJSON is the stored form of a tracker.MixFacts.
type mixJSON struct {
	Name     string   `json:"name"`
	From     string   `json:"from"`
	Why      string   `json:"why"`
	Diluent  string   `json:"diluent"`
	Cautions []string `json:"cautions,omitempty"`
	Ticks    []string `json:"ticks,omitempty"`
	Working  []string `json:"working"`
}

const productColumns = `product_id, name, label, facts, gone, created_at, person_id, content_hash`

func scanProduct(r row) (p tracker.Product, err error) {
	return p, r.Scan(&p.ID, &p.Name, &p.Label, asBody((*productJSON)(&p.Facts)), &p.Gone, asInstant(&p.CreatedAt), &p.CreatedBy, &p.Hash)
}

// asBody reads a JSON object that is always there.
func asBody(to any) reader {
	return asText(func(text string) error { return json.Unmarshal([]byte(text), to) })
}

// Products lists them by name, those that are not bought any more too.
func (t *tx) Products() ([]tracker.Product, error) {
	return list(t, scanProduct, `SELECT `+productColumns+` FROM product WHERE yard_id = $1 ORDER BY name, product_id`, t.yard)
}

// Product finds a product.
func (t *tx) Product(id tracker.ProductID) (tracker.Product, error) {
	return one(t, "product", scanProduct, `SELECT `+productColumns+` FROM product WHERE yard_id = $1 AND product_id = $2`, t.yard, string(id))
}

// AddProduct adds a product.
func (t *tx) AddProduct(p tracker.Product) error {
	return t.insert("product", `yard_id, `+productColumns, t.yard, string(p.ID), p.Name, needed("label", p.Label), asJSONText(productJSON(p.Facts)), p.Gone,
		ms(p.CreatedAt), string(p.CreatedBy), p.Hash)
}

// SaveProduct changes a product's name, facts and whether it is gone.
func (t *tx) SaveProduct(p tracker.Product) error {
	return t.change("product", `UPDATE product SET name = $3, facts = $4, gone = $5 WHERE yard_id = $1 AND product_id = $2`,
		t.yard, string(p.ID), p.Name, asJSONText(productJSON(p.Facts)), p.Gone)
}

// needed is an exact number that must be there.
func needed[T ~string](what string, v T) value {
	return func() (driver.Value, error) {
		if v == "" {
			return nil, fmt.Errorf("a record without a %s cannot be kept", what)
		}
		return string(v), nil
	}
}

const bottleColumns = `b.bottle_id, b.product_id, b.size, b.expiry_on, b.added_at, b.person_id, b.ended_at, b.content_hash`

func scanBottle(r row) (b tracker.Bottle, err error) {
	return b, r.Scan(&b.ID, &b.Product, &b.Size, asDay(&b.Expiry), asInstant(&b.AddedAt), &b.AddedBy, asInstant(&b.Ended), &b.Hash)
}

// byOwner sorts what a second query read by the record that it belongs to.
func byOwner[P any, K comparable](parts []P, owner func(P) K) map[K][]P {
	out := map[K][]P{}
	for _, p := range parts {
		out[owner(p)] = append(out[owner(p)], p)
	}
	return out
}

// bottles reads the bottles that a condition picks, and their acts with a second query.
func (t *tx) bottles(condition string, args ...any) ([]tracker.Bottle, error) {
	found, err := list(t, scanBottle, `SELECT `+bottleColumns+` FROM bottle b WHERE b.yard_id = $1`+condition+` ORDER BY b.added_at, b.bottle_id`, args...)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	acts, err := list(t, scanStoreAct, `SELECT `+actColumns+` FROM bottle b CROSS JOIN store_act a
		WHERE b.yard_id = $1`+condition+` AND a.yard_id = b.yard_id AND a.bottle_id = b.bottle_id ORDER BY a.at, a.record_id`, args...)
	parts := byOwner(acts, func(a tracker.StoreAct) tracker.BottleID { return a.Bottle })
	for i, b := range found {
		found[i].Acts = parts[b.ID]
	}
	return found, err
}

// Bottles lists those that are there, oldest first, with their acts.
func (t *tx) Bottles() ([]tracker.Bottle, error) { return t.bottles(` AND b.ended_at = 0`, t.yard) }

// PastBottles lists a product's bottles that ended, the last ones first and at most 50, without their acts.
func (t *tx) PastBottles(product tracker.ProductID) ([]tracker.Bottle, error) {
	return list(t, scanBottle, `SELECT `+bottleColumns+` FROM bottle b WHERE b.yard_id = $1 AND b.product_id = $2 AND b.ended_at > 0
		ORDER BY b.ended_at DESC, b.bottle_id DESC LIMIT 50`, t.yard, string(product))
}

// Bottle finds a bottle, with its acts.
func (t *tx) Bottle(id tracker.BottleID) (tracker.Bottle, error) {
	return only("bottle", func() ([]tracker.Bottle, error) { return t.bottles(` AND b.bottle_id = $2`, t.yard, string(id)) })
}

// only gives the one thing that a list holds.
func only[T any](what string, read func() ([]T, error)) (found T, err error) {
	list, err := read()
	if err == nil && len(list) == 0 {
		err = missing(what)
	}
	if err == nil {
		found = list[0]
	}
	return found, err
}

// AddBottle adds a bottle, and the acts that it comes with.
func (t *tx) AddBottle(b tracker.Bottle) error {
	err := t.insert("bottle", `yard_id, bottle_id, product_id, size, expiry_on, added_at, person_id, ended_at, content_hash`,
		t.yard, string(b.ID), string(b.Product), needed("size", b.Size), b.Expiry.String(), ms(b.AddedAt), string(b.AddedBy), 0, b.Hash)
	for _, act := range b.Acts {
		if err == nil {
			err = t.AddStoreAct(act)
		}
	}
	return err
}

const mixColumns = `m.mix_id, m.product_id, m.bottle_id, m.parent_id, m.horse_id, m.plan, m.want, m.strength, m.concentrate, m.total, m.made_at,
	m.person_id, m.throw_away_at, m.facts, m.ended_at, m.content_hash`

func scanMix(r row) (m tracker.Mix, err error) {
	return m, r.Scan(&m.ID, &m.Product, asWord(&m.Bottle), asWord(&m.Parent), asWord(&m.Horse), &m.Plan, &m.Want, &m.Strength, &m.Concentrate, &m.Total,
		asInstant(&m.MadeAt), &m.By, asInstant(&m.ThrowAway), asBody((*mixJSON)(&m.Facts)), asInstant(&m.Ended), &m.Hash)
}

// mixes reads the mixes that a condition picks, and their acts with a second query.
func (t *tx) mixes(condition string, args ...any) ([]tracker.Mix, error) {
	found, err := list(t, scanMix, `SELECT `+mixColumns+` FROM mix m WHERE m.yard_id = $1`+condition+` ORDER BY m.made_at DESC, m.mix_id DESC`, args...)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	acts, err := list(t, scanStoreAct, `SELECT `+actColumns+` FROM mix m CROSS JOIN store_act a
		WHERE m.yard_id = $1`+condition+` AND a.yard_id = m.yard_id AND a.mix_id = m.mix_id ORDER BY a.at, a.record_id`, args...)
	parts := byOwner(acts, func(a tracker.StoreAct) tracker.MixID { return a.Mix })
	for i, m := range found {
		found[i].Acts = parts[m.ID]
	}
	return found, err
}

// Mixes lists those that are there and are not thrown away before an instant, newest first, with their acts.
func (t *tx) Mixes(since time.Time) ([]tracker.Mix, error) {
	return t.mixes(` AND m.ended_at = 0 AND m.throw_away_at >= $2`, t.yard, ms(since))
}

// MixesMade lists those made from an instant on, for one horse or for any, newest first, without their acts.
func (t *tx) MixesMade(horse tracker.HorseID, since time.Time) ([]tracker.Mix, error) {
	narrow, args := ofHorse("m.horse_id", horse, []any{t.yard, ms(since)})
	return list(t, scanMix, `SELECT `+mixColumns+` FROM mix m WHERE m.yard_id = $1 AND m.made_at >= $2`+narrow+`
		ORDER BY m.made_at DESC, m.mix_id DESC`, args...)
}

// Mix finds a mix, with its acts.
func (t *tx) Mix(id tracker.MixID) (tracker.Mix, error) {
	return only("mix", func() ([]tracker.Mix, error) { return t.mixes(` AND m.mix_id = $2`, t.yard, string(id)) })
}

// AddMix adds a mix.
func (t *tx) AddMix(m tracker.Mix) error {
	return t.insert("mix", `yard_id, mix_id, product_id, bottle_id, parent_id, horse_id, plan, want, strength, concentrate, total, made_at,
		person_id, throw_away_at, facts, ended_at, content_hash`,
		t.yard, string(m.ID), string(m.Product), orNull(m.Bottle), orNull(m.Parent), orNull(m.Horse), m.Plan, needed("wanted strength", m.Want),
		needed("strength", m.Strength), needed("concentrate", m.Concentrate), needed("total", m.Total), ms(m.MadeAt), string(m.By),
		ms(m.ThrowAway), asJSONText(mixJSON(m.Facts)), 0, m.Hash)
}

const actColumns = `a.record_id, a.kind, a.bottle_id, a.mix_id, a.at, a.person_id, a.day, a.amount, a.strength, a.for_mix, a.product_id, a.horse_id, a.item, a.of_act,
	a.note, a.content_hash`

func scanStoreAct(r row) (a tracker.StoreAct, err error) {
	return a, r.Scan(&a.ID, asKnown("act in Stores", &a.Kind), asWord(&a.Bottle), asWord(&a.Mix), asInstant(&a.At), &a.By, asDay(&a.Day),
		&a.Amount, &a.Strength, asWord(&a.For), &a.Product, &a.Horse, &a.Item, &a.Of, &a.Note, &a.Hash)
}

// StoreAct finds an act by its form.
func (t *tx) StoreAct(id tracker.RecordID) (tracker.StoreAct, error) {
	return one(t, "act", scanStoreAct, `SELECT `+actColumns+` FROM store_act a WHERE a.yard_id = $1 AND a.record_id = $2`, t.yard, string(id))
}

// AddStoreAct adds an act, and ends its bottle or mix when it is of a kind that does; the first end counts.
func (t *tx) AddStoreAct(a tracker.StoreAct) error {
	if neither := a.Bottle == "" && a.Mix == ""; a.Bottle != "" && a.Mix != "" || neither && a.Item == "" {
		return fmt.Errorf("an act in Stores is about a bottle or a mix, not about both or neither")
	}
	err := t.insert("store_act", `yard_id, record_id, kind, bottle_id, mix_id, at, person_id, day, amount, strength, for_mix, product_id, horse_id, item, of_act, note,
		content_hash`, t.yard, string(a.ID), known("act in Stores", a.Kind), orNull(a.Bottle), orNull(a.Mix), ms(a.At), string(a.By), a.Day.String(), string(a.Amount),
		string(a.Strength), orNull(a.For), string(a.Product), string(a.Horse), a.Item, string(a.Of), a.Note, a.Hash)
	if err != nil || !a.Kind.Ends() {
		return err
	}
	table, id := "bottle", string(a.Bottle)
	if a.Mix != "" {
		table, id = "mix", string(a.Mix)
	}
	return t.change(table, `UPDATE `+table+` SET ended_at = CASE WHEN ended_at = 0 THEN $3 ELSE ended_at END
		WHERE yard_id = $1 AND `+table+`_id = $2`, t.yard, id, ms(a.At))
}

// PutOn lists what was put on in the rounds of a day and what of it was given back, oldest first.
func (t *tx) PutOn(day tracker.Date) ([]tracker.StoreAct, error) {
	return list(t, scanStoreAct, `SELECT `+actColumns+` FROM store_act a WHERE a.yard_id = $1 AND a.day = $2 AND a.item <> '' ORDER BY a.at, a.record_id`,
		t.yard, code("day", day))
}

// Uses lists what went out of bottles into mixes and onto horses from an instant on, oldest first.
func (t *tx) Uses(since time.Time) ([]care.Use, error) {
	return list(t, func(r row) (u care.Use, err error) {
		return u, r.Scan(&u.Product, asInstant(&u.At), &u.Amount, &u.Strength, &u.Horse, &u.Unmet)
	}, `SELECT coalesce(b.product_id, a.product_id), a.at, a.amount, a.strength, a.horse_id, a.bottle_id IS NULL AND NOT EXISTS (SELECT 1 FROM bottle e
			WHERE e.yard_id = a.yard_id AND e.product_id = a.product_id AND e.ended_at >= a.at)
		FROM store_act a LEFT JOIN bottle b ON b.yard_id = a.yard_id AND b.bottle_id = a.bottle_id
		WHERE a.yard_id = $1 AND a.at >= $2 AND a.kind IN ('used', 'put-on') AND coalesce(a.mix_id, '') = ''
			AND NOT EXISTS (SELECT 1 FROM store_act o WHERE o.yard_id = a.yard_id AND o.of_act = a.record_id AND o.of_act <> '')
		ORDER BY a.at, a.record_id`, t.yard, ms(since))
}

// Measures gives the yard's volumes and measures; none is a zero value.
func (t *tx) Measures() (m tracker.Measures, err error) {
	_, err = list(t, func(r row) (none struct{}, err error) { return none, r.Scan(asJSON(&m.Volumes), asJSON(&m.Devices)) },
		`SELECT volumes, devices FROM measures WHERE yard_id = $1`, t.yard)
	return m, err
}

// SaveMeasures keeps them.
func (t *tx) SaveMeasures(m tracker.Measures) error {
	return t.exec(`INSERT INTO measures (yard_id, volumes, devices) VALUES ($1, $2, $3)
		ON CONFLICT (yard_id) DO UPDATE SET volumes = excluded.volumes, devices = excluded.devices`,
		t.yard, listJSON(m.Volumes), listJSON(m.Devices))
}
