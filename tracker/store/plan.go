package store

import (
	"cmp"
	"database/sql/driver"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"leground/tracker"
)

// dayText is a day inside a JSON body: 2026-05-14, or nothing.
type dayText tracker.Date

// MarshalText writes the day.
func (d dayText) MarshalText() ([]byte, error) { return []byte(tracker.Date(d).String()), nil }

// UnmarshalText reads it.
func (d *dayText) UnmarshalText(text []byte) error { return asDay((*tracker.Date)(d))(string(text)) }

// planJSON is the stored form of what a plan says.
type planJSON struct {
	Legs    []string           `json:"legs,omitempty"`
	Sites   []tracker.SiteID   `json:"sites,omitempty"`
	Steps   []stepJSON         `json:"steps"`
	RingIf  []string           `json:"ring_if,omitempty"`
	Source  tracker.PlanSource `json:"source"`
	SetName string             `json:"set_name,omitempty"`
	SetOn   dayText            `json:"set_on"`
	Note    string             `json:"note,omitempty"`
}

type stepJSON struct {
	ID       string               `json:"id"`
	Kind     tracker.StepKind     `json:"kind"`
	Product  tracker.ProductID    `json:"product,omitempty"`
	Of       string               `json:"of,omitempty"`
	Strength tracker.StrengthText `json:"strength,omitempty"`
	Ceiling  tracker.StrengthText `json:"ceiling,omitempty"`
	Minutes  int                  `json:"minutes,omitempty"`
	Rinse    bool                 `json:"rinse,omitempty"`
	Amount   tracker.AmountText   `json:"amount,omitempty"`
	AreaCM2  tracker.FractionText `json:"area_cm2,omitempty"`
	MostCM2  tracker.FractionText `json:"most_cm2,omitempty"`
	Order    *orderJSON           `json:"order,omitempty"`
	Note     string               `json:"note,omitempty"`
	Begins   dayText              `json:"begins"`
	BeginsAt tracker.MinuteOfDay  `json:"begins_at,omitempty"`
	Phases   []phaseJSON          `json:"phases"`
}

type orderJSON struct {
	Label     tracker.StrengthText `json:"label"`
	PerKG     tracker.FractionText `json:"per_kg"`
	Units     bool                 `json:"units,omitempty"`
	WeightKG  tracker.FractionText `json:"weight_kg"`
	Estimated bool                 `json:"estimated,omitempty"`
	MaxPerKG  tracker.FractionText `json:"max_per_kg"`
	MaxCourse tracker.FractionText `json:"max_course,omitempty"`
	MaxDays   int                  `json:"max_days,omitempty"`
	Measure   string               `json:"measure,omitempty"`
}

type phaseJSON struct {
	Times int              `json:"times,omitempty"`
	Slots []string         `json:"slots,omitempty"`
	Every int              `json:"every,omitempty"`
	On    string           `json:"on,omitempty"`
	Until tracker.PhaseEnd `json:"until"`
	Date  dayText          `json:"date,omitempty"`
	Count int              `json:"count,omitempty"`
}

func planBody(p tracker.Plan) value {
	body := planJSON{Sites: p.Sites, RingIf: p.RingIf, Source: p.Source, SetName: p.SetName, SetOn: dayText(p.SetOn), Note: p.Note}
	for _, leg := range p.Legs {
		body.Legs = append(body.Legs, leg.String())
	}
	for _, s := range p.Steps {
		step := stepJSON{ID: s.ID, Kind: s.Kind, Product: s.Product, Of: s.Of, Strength: s.Strength, Ceiling: s.Ceiling, Minutes: s.Minutes, Rinse: s.Rinse,
			Amount: s.Amount, AreaCM2: s.AreaCM2, MostCM2: s.MostCM2, Note: s.Note, Begins: dayText(s.Begins), BeginsAt: s.BeginsAt}
		if s.Order != (tracker.DoseOrder{}) {
			order := orderJSON(s.Order)
			step.Order = &order
		}
		for _, f := range s.Phases {
			step.Phases = append(step.Phases, phaseJSON{f.Times, f.Slots, f.Every, f.On, f.Until, dayText(f.Date), f.Count})
		}
		body.Steps = append(body.Steps, step)
	}
	return func() (driver.Value, error) {
		if !p.Source.Known() {
			return nil, fmt.Errorf("a plan set by nobody (%q) cannot be kept", p.Source)
		}
		for _, s := range p.Steps {
			if !s.Kind.Known() {
				return nil, fmt.Errorf("a plan with a step of kind %q cannot be kept", s.Kind)
			}
		}
		text, err := json.Marshal(body)
		return string(text), err
	}
}

func asPlanBody(p *tracker.Plan) reader {
	return asText(func(text string) error {
		var body planJSON
		if err := json.Unmarshal([]byte(text), &body); err != nil {
			return err
		}
		for _, tag := range body.Legs {
			leg, err := tracker.ParseLeg(tag)
			if err != nil {
				return err
			}
			p.Legs = append(p.Legs, leg)
		}
		p.Sites, p.RingIf, p.Source, p.SetName, p.SetOn, p.Note = body.Sites, body.RingIf, body.Source, body.SetName, tracker.Date(body.SetOn), body.Note
		for _, s := range body.Steps {
			step := tracker.PlanStep{ID: s.ID, Kind: s.Kind, Product: s.Product, Of: s.Of, Strength: s.Strength, Ceiling: s.Ceiling, Minutes: s.Minutes,
				Rinse: s.Rinse, Amount: s.Amount, AreaCM2: s.AreaCM2, MostCM2: s.MostCM2, Note: s.Note, Begins: tracker.Date(s.Begins), BeginsAt: s.BeginsAt}
			if s.Order != nil {
				step.Order = tracker.DoseOrder(*s.Order)
			}
			for _, f := range s.Phases {
				step.Phases = append(step.Phases, tracker.PlanPhase{Times: f.Times, Slots: f.Slots, Every: f.Every, On: f.On, Until: f.Until, Date: tracker.Date(f.Date), Count: f.Count})
			}
			p.Steps = append(p.Steps, step)
		}
		return nil
	})
}

const planColumns = `p.record_id, p.root_id, p.version, p.horse_id, p.body, p.starts_on, p.start_at, p.last_on, p.stopped, p.entered_by, p.entered_at, p.content_hash`

func scanPlan(r row) (p tracker.Plan, err error) {
	return p, r.Scan(&p.ID, &p.Root, &p.Version, &p.Horse, asPlanBody(&p), asDay(&p.Starts), &p.StartAt, asDay(&p.Last), &p.Stopped, &p.By, asInstant(&p.At), &p.Hash)
}

const readColumns = `r.record_id, r.plan_id, r.kind, r.person_id, r.at, r.day, r.name, r.typed, r.content_hash`

func scanPlanRead(r row) (o tracker.PlanRead, err error) {
	return o, r.Scan(&o.ID, &o.Plan, asKnown("way to read a plan", &o.Kind), &o.By, asInstant(&o.At), asDay(&o.Day), &o.Name, &o.Typed, &o.Hash)
}

// plans reads the versions that meet one of some conditions, no two of which hold together, and their readings, in one
// journey. Each condition is one seek; in any other form one of the databases walks every plan there ever was.
func (t *tx) plans(conditions []string, args ...any) ([]tracker.Plan, error) {
	var plans, readings []string
	for _, met := range conditions {
		plans = append(plans, `SELECT `+planColumns+` FROM plan p WHERE p.yard_id = $1 AND `+met)
		readings = append(readings, `SELECT `+readColumns+` FROM plan p CROSS JOIN plan_read r
			WHERE p.yard_id = $1 AND `+met+` AND r.yard_id = p.yard_id AND r.plan_id = p.record_id`)
	}
	var found []tracker.Plan
	var reads []tracker.PlanRead
	ask(t, &found, scanPlan, strings.Join(plans, " UNION ALL "), args...)
	ask(t, &reads, scanPlanRead, strings.Join(readings, " UNION ALL "), args...)
	err := t.answers()
	slices.SortFunc(found, func(a, b tracker.Plan) int {
		return cmp.Or(strings.Compare(string(a.Root), string(b.Root)), a.Version-b.Version)
	})
	slices.SortFunc(reads, func(a, b tracker.PlanRead) int {
		return cmp.Or(a.At.Compare(b.At), strings.Compare(string(a.ID), string(b.ID)))
	})
	parts := byOwner(reads, func(r tracker.PlanRead) tracker.RecordID { return r.Plan })
	for i, p := range found {
		found[i].Reads = parts[p.ID]
	}
	return found, err
}

// Plans lists the versions that hold on some day from one on, of one horse or of every horse, by plan and
// version.
func (t *tx) Plans(horse tracker.HorseID, from tracker.Date) ([]tracker.Plan, error) {
	narrow, args := ofHorse("p.horse_id", horse, []any{t.yard, from.String()})
	return t.plans([]string{
		`p.until_on = '' AND p.last_on = ''` + narrow,
		`p.until_on = '' AND p.last_on >= $2` + narrow,
		`p.until_on >= $2 AND (p.last_on = '' OR p.last_on >= $2)` + narrow,
	}, args...)
}

// PlanVersions lists every version of a plan by its root, oldest first.
func (t *tx) PlanVersions(root tracker.RecordID) ([]tracker.Plan, error) {
	return t.plans([]string{`p.root_id = $2`}, t.yard, string(root))
}

// PlanByRecord finds one version by its own id.
func (t *tx) PlanByRecord(id tracker.RecordID) (tracker.Plan, error) {
	return only("plan", func() ([]tracker.Plan, error) {
		return t.plans([]string{`p.record_id = $2`}, t.yard, string(id))
	})
}

// PlanRoots lists the newest version of each of a horse's plans, newest first and so many at most, the stopped ones too.
func (t *tx) PlanRoots(horse tracker.HorseID, most int) ([]tracker.Plan, error) {
	return list(t, scanPlan, `SELECT `+planColumns+` FROM plan p WHERE p.yard_id = $1 AND p.horse_id = $2 AND p.version >=
		(SELECT max(n.version) FROM plan n WHERE n.yard_id = p.yard_id AND n.root_id = p.root_id)
		ORDER BY p.entered_at DESC, p.record_id DESC LIMIT $3`, t.yard, string(horse), most)
}

// AddPlan adds a version. It is the only way in which plans change. What an older version says stays; that it holds
// until this one begins is noted beside it.
func (t *tx) AddPlan(p tracker.Plan) error {
	err := t.exec(`UPDATE plan SET until_on = $1 WHERE yard_id = $2 AND root_id = $3 AND version < $4 AND (until_on = '' OR until_on > $1)`,
		code("first day", p.Starts), t.yard, string(p.Root), p.Version)
	if err != nil {
		return err
	}
	return t.insert("plan", `yard_id, record_id, root_id, version, horse_id, body, starts_on, start_at, last_on, stopped, takes, entered_by, entered_at, content_hash`,
		t.yard, string(p.ID), string(p.Root), p.Version, string(p.Horse), planBody(p), code("first day", p.Starts), p.StartAt, p.Last.String(), p.Stopped,
		slices.ContainsFunc(p.Steps, tracker.PlanStep.Takes), string(p.By), ms(p.At), p.Hash)
}

// PlanReadByRecord finds a reading by its form.
func (t *tx) PlanReadByRecord(id tracker.RecordID) (tracker.PlanRead, error) {
	return one(t, "reading of a plan", scanPlanRead, `SELECT `+readColumns+` FROM plan_read r WHERE r.yard_id = $1 AND r.record_id = $2`, t.yard, string(id))
}

// AddPlanRead adds a reading.
func (t *tx) AddPlanRead(r tracker.PlanRead) error {
	return t.insert("plan_read", `yard_id, record_id, plan_id, kind, person_id, at, day, name, typed, content_hash`,
		t.yard, string(r.ID), string(r.Plan), known("way to read a plan", r.Kind), string(r.By), ms(r.At), r.Day.String(), r.Name, r.Typed, r.Hash)
}
