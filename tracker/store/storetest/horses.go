package storetest

import (
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

func testHorses(t *testing.T, h *House) {
	full := tracker.Horse{
		ID: tracker.HorseID(NewID()), Name: "Ploughboy", Sort: "cob", Order: tracker.WalkingOrder{tracker.RH, tracker.LH, tracker.RF, tracker.LF},
		OrderReason: "kicks with the left", Handling: "two people", IsolatedUntil: today + 20, Tetanus: tracker.Tetanus{Last: today - 100},
		Food: tracker.MayBeFood, Arrived: today - 1, Place: tracker.AtClinic, Position: 2, CreatedAt: noon.Add(time.Millisecond),
	}
	wantFilled(t, full)
	horse := func(id tracker.HorseID) (found tracker.Horse, err error) {
		err = h.DB.Read(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { found, err = tx.Horse(id); return err })
		return found, err
	}
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.AddHorse(full) })
	got, err := horse(full.ID)
	must(t, err)
	same(t, "a horse as added", got, full)
	_, err = horse(tracker.HorseID(NewID()))
	wantKind(t, "an unknown horse", err, tracker.NotFound)
	wantKind(t, "a horse that is there", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddHorse(full) }), tracker.Conflict)

	changed := tracker.Horse{ID: full.ID, Name: "Boy", Place: tracker.Gone, Position: 9, CreatedAt: full.CreatedAt}
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SaveHorse(changed) })
	got, err = horse(full.ID)
	must(t, err)
	same(t, "a horse as changed", got, changed)
	h.read(t, h.Mine, func(tx care.Tx) error {
		horses, err := tx.Horses()
		same(t, "horses by position, gone ones too", horses, []tracker.Horse{h.Mine.Bramble, h.Mine.Tom, h.Mine.Juni, changed})
		return err
	})
	wantKind(t, "saving an unknown horse", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
		return tx.SaveHorse(tracker.Horse{ID: tracker.HorseID(NewID()), Place: tracker.Here})
	}), tracker.NotFound)
}

func testSites(t *testing.T, h *House) {
	full := tracker.Site{
		ID: tracker.SiteID(NewID()), Horse: h.Mine.Tom.ID, Leg: tracker.LF, Number: 3, Region: tracker.PasternFold, Aspect: tracker.Palmar, Kind: tracker.Patch,
		Onset: today - 3, OpenedAt: noon, OpenedBy: h.Mine.Bea.ID, Record: newRecord(), ClosedOn: today, Joined: h.Mine.Wound.ID,
	}
	wantFilled(t, full)
	number := func(horse tracker.HorseID, leg tracker.Leg) (n int) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { n, err = tx.NextSiteNumber(horse, leg); return err })
		return n
	}
	same(t, "the first number of a leg", number(h.Mine.Tom.ID, tracker.LF), 1)
	same(t, "the next number of a leg", number(h.Mine.Bramble.ID, tracker.RH), 3)
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.AddSite(full, "a hash") })
	same(t, "the next number counts closed sites", number(h.Mine.Tom.ID, tracker.LF), 4)
	h.read(t, h.Mine, func(tx care.Tx) error {
		site, err := tx.Site(full.ID)
		must(t, err)
		same(t, "a site as added", site, full)
		site, hash, err := tx.SiteByRecord(full.Record)
		same(t, "a site by its form", site, full)
		same(t, "the hash of its form", hash, "a hash")
		must(t, err)
		_, _, err = tx.SiteByRecord(newRecord())
		wantKind(t, "a site by an unknown form", err, tracker.NotFound)
		_, err = tx.Site(tracker.SiteID(NewID()))
		wantKind(t, "an unknown site", err, tracker.NotFound)
		return nil
	})
	changed := full
	changed.Region, changed.Aspect, changed.Kind, changed.Onset, changed.ClosedOn, changed.Joined = tracker.Coronet, tracker.Medial, tracker.Wound, 0, 0, ""
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SaveSite(changed) })

	var all []tracker.Site
	var more []tracker.Site // on three legs, in the walking order of a new yard and not of the alphabet
	for _, leg := range []tracker.Leg{tracker.LH, tracker.RH, tracker.RF} {
		for n := 2; n > 0; n-- {
			more = append(more, tracker.Site{ID: tracker.SiteID(NewID()), Horse: h.Mine.Tom.ID, Leg: leg, Number: n, Region: tracker.Fetlock,
				Aspect: tracker.Dorsal, Kind: tracker.Wound, OpenedAt: noon, OpenedBy: h.Mine.Ada.ID, Record: newRecord()})
		}
	}
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, site := range more {
			must(t, tx.AddSite(site, ""))
		}
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		toms, err := tx.Sites(h.Mine.Tom.ID)
		must(t, err)
		same(t, "a horse's sites by leg and number", toms, []tracker.Site{changed, more[5], more[4], more[3], more[2], more[1], more[0]})
		all, err = tx.Sites("")
		return err
	})
	if len(all) != 9 {
		t.Errorf("%d sites in the yard, want 9", len(all))
	}
	twin := full
	twin.ID, twin.Record = tracker.SiteID(NewID()), newRecord()
	wantKind(t, "a number that another site has", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddSite(twin, "") }), tracker.Conflict)
	twin.Number, twin.Record = 7, full.Record
	wantKind(t, "a form that made another site", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddSite(twin, "") }), tracker.Conflict)
}

func fullJudgement(site tracker.SiteID, day tracker.Date) tracker.Judgement {
	return tracker.Judgement{
		Site: site, Day: day, Label: "closing", Reason: "It closes.", MadeAt: noon, HasRate: true, Rate: 0.31, Low: 0.1, High: 0.5,
		LabelLow: 0.05, LabelHigh: 0.55, Smallest: 0.2, DaysUsed: 9, SpanDays: 14, Remeasure: true, AreaCM2: 8.25, FirstCM2: 12.5,
		FirstDay: day - 14, GiveOrTake: 0.4, SlowDays: 3, OverdueTurn: true, Gilman: 0.3, HalfLife: 17.5, ClosesFrom: day + 20, ClosesTo: day + 40, Active: 4, ActiveJudged: 6, Chronic: 2, ChronicJudged: 3,
	}
}

func testJudgements(t *testing.T, h *House) {
	full := fullJudgement(h.Mine.Wound.ID, today)
	wantFilled(t, full)
	older, patch := full, tracker.Judgement{Site: h.Mine.Patch.ID, Day: today - 5, Label: "no change", MadeAt: noon}
	older.Day, older.Label = today-1, "slow"
	again := full
	again.Label, again.MadeAt = "not closing", noon.Add(time.Minute)
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, j := range []tracker.Judgement{full, older, patch, again} {
			must(t, tx.SaveJudgement(j))
		}
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		list, err := tx.JudgementsOf(full.Site, today-1)
		must(t, err)
		same(t, "a site's judgements, one a day, oldest first", list, []tracker.Judgement{older, again})
		list, err = tx.JudgementsOf(full.Site, today)
		must(t, err)
		same(t, "a site's judgements from today", list, []tracker.Judgement{again})
		newest := map[tracker.SiteID]tracker.Judgement{full.Site: again, patch.Site: patch}
		for _, horse := range []tracker.HorseID{"", h.Mine.Bramble.ID} {
			found, err := tx.Judgements(horse)
			must(t, err)
			same(t, "the newest of each site", found, newest)
		}
		found, err := tx.Judgements(h.Mine.Tom.ID)
		same(t, "judgements of a horse without sites", found, map[tracker.SiteID]tracker.Judgement{})
		return err
	})
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.DropJudgements(full.Site, today-1) })
	h.read(t, h.Mine, func(tx care.Tx) error {
		left, err := tx.Judgements("")
		same(t, "the newest of each site after one was dropped", left, map[tracker.SiteID]tracker.Judgement{full.Site: older, patch.Site: patch})
		return err
	})
}
