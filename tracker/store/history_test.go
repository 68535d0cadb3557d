package store_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"modernc.org/sqlite"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
	"leground/tracker/store/storetest"
	"leground/tracker/store/storetest/pgtest"
)

var today = tracker.DateOf(noon)

// lived adds so many days of records to a yard, the last one today: looks at two sites, a leg line, a soak,
// a judgement, two rounds and a reminder each day, a photo and a caution each week. The wound was measured in
// the first week only, the patch never, and only the first event was a reset: what a page seeks lies far back.
func lived(t *testing.T, db *store.DB, p storetest.Place, days int) {
	t.Helper()
	err := db.Write(t.Context(), p.Yard.ID, func(tx care.Tx) error {
		if err := tx.AddProduct(tracker.Product{ID: cream, Label: "1|% w/w|anything", CreatedAt: noon, CreatedBy: p.Ada.ID}); err != nil {
			return err
		}
		for n := range days {
			for _, add := range oneDay(p, n, n-days+1) {
				if err := add(tx); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// cream is the product of which every week a tube comes and is used up.
const cream tracker.ProductID = "cream"

// tube is such a tube of one week, with what was used of it and what the tube before did not have.
func tube(p storetest.Place, wound tracker.Check) (adds []func(care.Tx) error) {
	b := tracker.Bottle{ID: tracker.BottleID(storetest.NewID()), Product: cream, Size: "30|g", AddedAt: wound.At, AddedBy: p.Ada.ID}
	for i, kind := range []tracker.StoreActKind{tracker.PutOn, tracker.PutOn, tracker.GivenBack, tracker.PutOn, tracker.UsedUp} {
		a := tracker.StoreAct{ID: tracker.RecordID(storetest.NewID()), Kind: kind, Bottle: b.ID, At: wound.At, By: p.Ada.ID}
		if kind != tracker.UsedUp {
			a.Day, a.Amount, a.Product, a.Horse, a.Item = wound.Day, "2|g", cream, p.Bramble.ID, "morning step/LF"
		}
		if i == 0 {
			a.Bottle = ""
		}
		if kind == tracker.GivenBack {
			a.Of = b.Acts[i-1].ID
		}
		b.Acts = append(b.Acts, a)
	}
	return []func(care.Tx) error{func(tx care.Tx) error { return tx.AddBottle(b) }}
}

func oneDay(p storetest.Place, n, offset int) (adds []func(care.Tx) error) {
	answer := tracker.UnderBandage
	kind := tracker.SoakStarted
	if n < 7 {
		answer = tracker.Measured
	}
	if n == 0 {
		kind = tracker.Debridement
	}
	wound, patch := storetest.Look(p, p.Wound, offset, answer), storetest.Look(p, p.Patch, offset, tracker.NotDue)
	line := storetest.Look(p, p.Wound, offset, 0)
	line.Subject, line.Site = tracker.OfLeg, ""
	for _, c := range []*tracker.Check{&wound, &patch, &line} {
		c.RoundDay, c.Slot = c.Day, "morning"
		adds = append(adds, func(tx care.Tx) error { return tx.AddCheck(*c) })
	}
	return append(adds, func(tx care.Tx) error {
		return tx.AddEvent(tracker.Event{ID: tracker.RecordID(storetest.NewID()), Kind: kind, Horse: p.Bramble.ID, Leg: tracker.RH, Day: wound.Day, At: wound.At, By: p.Ada.ID})
	}, func(tx care.Tx) error {
		return tx.SaveJudgement(tracker.Judgement{Site: p.Wound.ID, Day: wound.Day, Label: "slow", MadeAt: wound.At})
	}, func(tx care.Tx) error {
		for i, slot := range tracker.DefaultSlots() {
			due := wound.At.Add(time.Duration(i) * 11 * time.Hour)
			if err := tx.AddRound(tracker.Round{Day: wound.Day, Slot: slot.Name, DueAt: due, UseBy: due.Add(11 * time.Hour), State: tracker.RoundDone}); err != nil {
				return err
			}
		}
		return tx.AddReminder(care.Reminder{ID: tracker.ReminderID(storetest.NewID()), Kind: "round", Subject: wound.Day.String(), Person: p.Ada.ID, Channel: "email",
			State: store.Sent, Facts: []byte("{}"), PlannedAt: wound.At, SendAt: wound.At, UseBy: wound.At, SentAt: wound.At})
	}, func(tx care.Tx) error {
		return tx.AddTickOff(tracker.TickOff{ID: tracker.RecordID(storetest.NewID()), Outcome: tracker.TickDone, Day: wound.Day, Slot: []string{"morning", ""}[n%2], By: p.Ada.ID, At: wound.At})
	}, func(tx care.Tx) error {
		if n%7 != 0 {
			return nil
		}
		c := tracker.Caution{ID: tracker.CautionID(storetest.NewID()), Rule: "slow", Level: tracker.NextVisit, Horse: p.Bramble.ID, Site: p.Wound.ID, Raised: wound.At}
		if err := tx.AddCaution(c); err != nil {
			return err
		}
		act := tracker.CautionAct{ID: tracker.RecordID(storetest.NewID()), Kind: tracker.VetKnows, At: wound.At, By: p.Ada.ID}
		if err := tx.AddAct(c.ID, act, offset < -7); err != nil {
			return err
		}
		for _, add := range slices.Concat(weekly(p, wound), tube(p, wound)) {
			if err := add(tx); err != nil {
				return err
			}
		}
		return tx.AddPhoto(tracker.Photo{ID: tracker.PhotoID(storetest.NewID()), Check: wound.ID, Horse: p.Bramble.ID, Leg: tracker.RH, Site: p.Wound.ID, At: wound.At,
			By: p.Ada.ID, Width: 1, Height: 1, ThumbW: 1, ThumbH: 1}, []byte{1}, []byte{1})
	})
}

// weekly is what is set, said and planned each week: a change, a proposal that was declined, a second reading, a plan of
// two versions with a reading, the farrier, a day away.
func weekly(p storetest.Place, wound tracker.Check) (adds []func(care.Tx) error) {
	set := tracker.Setting{ID: tracker.RecordID(storetest.NewID()), Kind: tracker.OfHealing, Day: wound.Day, At: wound.At, By: p.Ada.ID}
	said := tracker.Proposal{ID: tracker.RecordID(storetest.NewID()), Horse: p.Bramble.ID, At: wound.At, State: tracker.Declined}
	second := wound
	second.ID, second.Looker, second.Blind, second.RoundDay, second.Slot = tracker.RecordID(storetest.NewID()), p.Bea.ID, wound.Root, 0, ""
	second.Root, second.At = second.ID, wound.At.Add(time.Hour)
	id := func() tracker.RecordID { return tracker.RecordID(storetest.NewID()) }
	plan := tracker.Plan{ID: id(), Version: 1, Horse: p.Bramble.ID, Starts: wound.Day - 6, Source: tracker.SetByOwner, By: p.Ada.ID, At: wound.At}
	plan.Root = plan.ID
	last := plan
	last.ID, last.Version, last.Starts, last.Last = id(), 2, wound.Day-3, wound.Day
	read := tracker.PlanRead{ID: id(), Plan: plan.ID, Kind: tracker.ReadBack, By: p.Bea.ID, At: wound.At, Day: wound.Day}
	once := tracker.OneOff{ID: id(), Kind: tracker.FarrierComes, Day: wound.Day, By: p.Ada.ID, MadeAt: wound.At, Settled: wound.At}
	away := tracker.Absence{ID: id(), Horse: p.Juni.ID, From: wound.Day, To: wound.Day, By: p.Ada.ID, At: wound.At}
	adds = append(adds, func(tx care.Tx) error { return tx.AddPlan(plan) }, func(tx care.Tx) error { return tx.AddPlan(last) },
		func(tx care.Tx) error { return tx.AddPlanRead(read) }, func(tx care.Tx) error { return tx.AddOneOff(once) }, func(tx care.Tx) error { return tx.AddAbsence(away) })
	return append(adds, func(tx care.Tx) error { return tx.AddSetting(set) }, func(tx care.Tx) error { return tx.AddProposal(said) },
		func(tx care.Tx) error { return tx.AddCheck(second) })
}

// lists is everything that the pages and the saving of a check ask for, over the spans that they ask for.
func lists(tx care.Tx, p storetest.Place, check tracker.Check) map[string]error {
	from, span := today-41, time.Duration(41)*24*time.Hour
	errs := map[string]error{}
	keep := func(name string, _ any, err error) { errs[name] = err }
	for _, horse := range []tracker.HorseID{"", p.Bramble.ID} {
		of := " of the yard"
		if horse != "" {
			of = " of a horse"
		}
		call := func(name string, list func(tracker.HorseID) (map[tracker.SiteID]tracker.Check, error)) {
			found, err := list(horse)
			keep(name+of, found, err)
		}
		call("FirstSizes", tx.FirstSizes)
		call("LastSizes", tx.LastSizes)
		call("LastLooks", tx.LastLooks)
		judgements, err := tx.Judgements(horse)
		keep("Judgements"+of, judgements, err)
		photos, err := tx.LastPhotos(horse)
		keep("LastPhotos"+of, photos, err)
		cautions, err := tx.CautionsSince(horse, noon.Add(-span))
		keep("CautionsSince"+of, cautions, err)
		events, err := tx.Events(horse, from)
		keep("Events"+of, events, err)
		sites, err := tx.Sites(horse)
		keep("Sites"+of, sites, err)
	}
	for name, q := range map[string]care.CheckQuery{
		"of two days": {From: today - 1}, "of a horse's span": {Horse: p.Bramble.ID, From: from, To: today, All: true},
		"of a site's span": {Site: p.Wound.ID, From: from}, "of a round": {RoundDay: today, Slot: "morning"},
		"newest": {Limit: 20}, "newest of a site": {Site: p.Patch.ID, Limit: 20}, "newest of a horse before": {Horse: p.Bramble.ID, Limit: 20, Before: noon.Add(-span / 2)},
	} {
		found, err := tx.Checks(q)
		keep("Checks "+name, found, err)
	}
	for _, horse := range []tracker.HorseID{"", p.Bramble.ID} {
		plans, err := tx.Plans(horse, from)
		keep("Plans "+string(horse), plans, err)
	}
	away, err := tx.Absences(from)
	keep("Absences", away, err)
	once, err := tx.OneOffs(from)
	keep("OneOffs", once, err)
	ticks, err := tx.TickOffs(today-1, from)
	keep("TickOffs", ticks, err)
	ground, err := tx.Ground(check)
	keep("Ground", ground, err)
	looks, err := tx.InRound(check)
	keep("InRound", looks, err)
	series, err := tx.Series(p.Wound.ID, from, true)
	keep("Series", series, err)
	one, err := tx.CheckByRecord(check.ID)
	keep("CheckByRecord", one, err)
	versions, err := tx.Versions(check.Root)
	keep("Versions", versions, err)
	judgements, err := tx.JudgementsOf(p.Wound.ID, from)
	keep("JudgementsOf", judgements, err)
	photos, err := tx.PhotosBetween(p.Bramble.ID, noon.Add(-span), noon)
	keep("PhotosBetween", photos, err)
	reset, err := tx.LastReset(p.Wound, today)
	keep("LastReset", reset, err)
	none, err := tx.LastReset(p.Patch, today)
	keep("LastReset of the other", none, err)
	open, err := tx.OpenCautions()
	keep("OpenCautions", open, err)
	rounds, err := tx.Rounds(today-1, today)
	keep("Rounds", rounds, err)
	reminders, err := tx.Reminders(care.ReminderQuery{Since: noon.Add(-24 * time.Hour)})
	keep("Reminders", reminders, err)
	conflicts, err := tx.Conflicts()
	keep("Conflicts", conflicts, err)
	bottles, err := tx.Bottles()
	keep("Bottles", bottles, err)
	uses, err := tx.Uses(noon.AddDate(0, 0, -14))
	keep("Uses", uses, err)
	put, err := tx.PutOn(today)
	keep("PutOn", put, err)
	set, err := tx.Settings()
	keep("Settings", set, err)
	proposals, err := tx.Proposals("")
	keep("Proposals", proposals, err)
	counts, err := tx.CautionCounts(noon.AddDate(0, 0, -90))
	keep("CautionCounts", counts, err)
	pairs, err := tx.BlindPairs(today - 30)
	keep("BlindPairs", pairs, err)
	number, err := tx.NextSiteNumber(p.Bramble.ID, tracker.RH)
	keep("NextSiteNumber", number, err)
	return errs
}

// TestHistoryCostsNothing holds a yard with five years of records against one with two months in the same
// tables: no list that a page asks for may read more for the years, on either database.
func TestHistoryCostsNothing(t *testing.T) {
	t.Run("sqlite", func(t *testing.T) {
		folder := t.TempDir()
		raw, err := sql.Open("sqlite", "file:"+filepath.Join(folder, store.FileName))
		if err != nil {
			t.Fatal(err)
		}
		defer raw.Close()
		testHistory(t, open(t, folder), 4, func() {}, func(ctx context.Context, yard tracker.YardID, s store.Statement) (float64, string) {
			return sqliteCost(t, raw, s)
		})
	})
	t.Run("postgres", func(t *testing.T) {
		url := pgtest.URL(t)
		db := open(t, url)
		conn, err := pgx.Connect(t.Context(), url)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close(context.Background())
		// It reads a table of twenty blocks whole, which is right.
		testHistory(t, db, 20, func() { pgtest.Analyze(t, url) }, func(ctx context.Context, yard tracker.YardID, s store.Statement) (float64, string) {
			return postgresCost(t, conn, yard, s)
		})
	})
}

type coster func(context.Context, tracker.YardID, store.Statement) (cost float64, plan string)

func testHistory(t *testing.T, db *store.DB, slack float64, ready func(), cost coster) {
	house := storetest.NewHouse(t, db)
	young, old := house.Other, house.Mine
	lived(t, db, young, 60)
	lived(t, db, old, 5*365+1)
	ready()
	spied, book := store.Spy(db)
	read := func(p storetest.Place) []store.Statement {
		*book = nil
		err := spied.Read(t.Context(), p.Yard.ID, func(tx care.Tx) error {
			found, err := tx.Checks(care.CheckQuery{Limit: 1})
			if err != nil {
				return err
			}
			for name, err := range lists(tx, p, found[0]) {
				if err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return *book
	}
	few, many := byText(read(young)), byText(read(old))
	if len(few) < 35 || len(few) != len(many) {
		t.Fatalf("%d queries of a young yard and %d of an old one", len(few), len(many))
	}
	for text, statement := range few {
		less, _ := cost(t.Context(), young.Yard.ID, statement)
		more, plan := cost(t.Context(), old.Yard.ID, many[text])
		if more > 1.3*less+slack {
			t.Errorf("read %.0f for two months and %.0f for five years:\n%s\n%s", less, more, text, plan)
		}
	}
}

// byText keeps one statement of each text.
func byText(statements []store.Statement) map[string]store.Statement {
	out := map[string]store.Statement{}
	for _, s := range statements {
		out[s.Text] = s
	}
	return out
}

// sqliteCost gives the pages that a query looked at, and refuses a plan that walks a table from end to end.
func sqliteCost(t *testing.T, db *sql.DB, s store.Statement) (float64, string) {
	t.Helper()
	var plan []string
	rows, err := db.QueryContext(t.Context(), "EXPLAIN QUERY PLAN "+s.Text, s.Args...)
	if err != nil {
		t.Fatal(err)
	}
	for rows.Next() {
		var id, parent, unused int
		var detail string
		if err := rows.Scan(&id, &parent, &unused, &detail); err != nil {
			t.Fatal(err)
		}
		plan = append(plan, detail)
		if strings.HasPrefix(detail, "SCAN") && detail != "SCAN CONSTANT ROW" && detail != "SCAN picked" { // as many keys as there are sites
			t.Errorf("walks a whole table: %s\n%s", detail, s.Text)
		}
	}
	if err := rows.Close(); err != nil {
		t.Fatal(err)
	}
	conn, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	looked := func() (pages int) {
		err := conn.Raw(func(c any) error {
			for _, op := range []sqlite.DBStatusOp{sqlite.DBStatusCacheHit, sqlite.DBStatusCacheMiss} {
				n, _, err := c.(sqlite.DBStatus).Status(op, false)
				if err != nil {
					return err
				}
				pages += n
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
		return pages
	}
	before := looked()
	answer, err := conn.QueryContext(t.Context(), s.Text, s.Args...)
	if err != nil {
		t.Fatal(err)
	}
	for answer.Next() { // reads all
	}
	if err := answer.Close(); err != nil {
		t.Fatal(err)
	}
	return float64(looked() - before), strings.Join(plan, "\n")
}

// postgresCost gives the blocks that a query looked at, with the plan that PostgreSQL makes once for every
// yard after the first few uses of a prepared statement.
func postgresCost(t *testing.T, conn *pgx.Conn, yard tracker.YardID, s store.Statement) (float64, string) {
	t.Helper()
	var literals []string
	for _, arg := range s.Args {
		switch v := arg.(type) {
		case string:
			literals = append(literals, "'"+strings.ReplaceAll(v, "'", "''")+"'")
		default:
			literals = append(literals, fmt.Sprint(v))
		}
	}
	call := "probe"
	if len(literals) > 0 {
		call += "(" + strings.Join(literals, ", ") + ")"
	}
	if _, err := conn.Exec(t.Context(), "BEGIN; SET LOCAL plan_cache_mode = force_generic_plan; SELECT set_config('leground.yard', '"+string(yard)+"', true); PREPARE probe AS "+s.Text); err != nil {
		t.Fatalf("%v\n%s", err, s.Text)
	}
	var text []byte
	if err := conn.QueryRow(t.Context(), "EXPLAIN (ANALYZE, BUFFERS, FORMAT JSON) EXECUTE "+call, pgx.QueryExecModeSimpleProtocol).Scan(&text); err != nil {
		t.Fatalf("%v\n%s", err, s.Text)
	}
	if _, err := conn.Exec(t.Context(), "DEALLOCATE probe; ROLLBACK"); err != nil {
		t.Fatal(err)
	}
	var plan []struct {
		Plan struct {
			Hit  float64 `json:"Shared Hit Blocks"`
			Read float64 `json:"Shared Read Blocks"`
		}
	}
	if err := json.Unmarshal(text, &plan); err != nil {
		t.Fatal(err)
	}
	return plan[0].Plan.Hit + plan[0].Plan.Read, string(text)
}
