package storetest

import (
	"maps"
	"reflect"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// contents is everything that a yard can see of itself.
type contents struct {
	Yard       tracker.Yard
	Members    []tracker.Member
	Sessions   []care.Session
	Links      []care.Link
	Horses     []tracker.Horse
	Sites      []tracker.Site
	Judgements []tracker.Judgement
	Checks     []tracker.Check
	Conflicts  []care.Conflict
	Photos     []tracker.Photo
	Events     []tracker.Event
	Cautions   []tracker.Caution
	Rounds     []tracker.Round
	Reminders  []care.Reminder
	Contacts   []care.Contact
	Ways       []care.Way
	Rules      care.ReminderRules
	Presses    []care.Press
	Changes    []care.RoundChange
	WakeAt     time.Time
	Stores     stores
	Planned    plans
	Saids      saids
}

func (h *House) contents(t testing.TB, p Place) (c contents) {
	t.Helper()
	h.read(t, p, func(tx care.Tx) error {
		var errs [15]error
		c.Yard, errs[0] = tx.Yard()
		c.Members, errs[1] = tx.Members()
		c.Sessions, errs[2] = tx.Sessions(p.Ada.ID)
		c.Links, errs[3] = tx.Links(noon)
		c.Horses, errs[4] = tx.Horses()
		c.Sites, errs[5] = tx.Sites("")
		c.Judgements, errs[6] = tx.JudgementsOf(p.Wound.ID, 1)
		c.Checks, errs[7] = tx.Checks(care.CheckQuery{All: true})
		c.Conflicts, errs[8] = tx.Conflicts()
		c.Photos, errs[9] = tx.PhotosOfSite(p.Wound.ID)
		c.Events, errs[10] = tx.Events("", 1)
		c.Cautions, errs[11] = tx.CautionsSince("", time.Time{})
		c.Rounds, errs[12] = tx.Rounds(1, today+99)
		c.Reminders, errs[13] = tx.Reminders(care.ReminderQuery{})
		for _, err := range errs {
			must(t, err)
		}
		c.readReach(t, tx)
		c.Stores = readStores(t, tx)
		c.Planned = readPlans(t, tx)
		c.Saids = readSaids(t, tx, p.Bramble.ID)
		return nil
	})
	return c
}

func (c *contents) readReach(t testing.TB, tx care.Tx) {
	var errs [6]error
	c.Contacts, errs[0] = tx.Contacts()
	c.Ways, errs[1] = tx.Ways()
	c.Rules, _, errs[2] = tx.ReminderRules()
	c.Presses, errs[3] = tx.Presses(time.Time{})
	c.Changes, errs[4] = tx.RoundChanges()
	c.WakeAt, errs[5] = tx.WakeAt()
	for _, err := range errs {
		must(t, err)
	}
}

// filled is one thing of every sort in a yard.
type filled struct {
	session  care.Session
	link     care.Link
	check    tracker.Check
	conflict care.Conflict
	photo    tracker.Photo
	event    tracker.Event
	caution  tracker.Caution
	act      tracker.CautionAct
	round    tracker.Round
	reminder care.Reminder
	stocked  stocked
	reached  reached
	asked    asked
	said     said
}

func (h *House) fill(t testing.TB, p Place) filled {
	t.Helper()
	f := filled{
		session: care.Session{ID: NewID(), Yard: p.Yard.ID, Person: p.Ada, Created: noon, Seen: noon},
		link:    care.Link{ID: NewID(), TokenHash: "hash of " + NewID(), Kind: care.InviteLink, Yard: p.Yard.ID, MadeAt: noon, ExpiresAt: far},
		check:   Look(p, p.Wound, 0, tracker.Measured), photo: photo(p, p.Wound.ID, 0), event: event(p, tracker.Clipping, 0),
		conflict: care.Conflict{ID: NewID(), Record: newRecord(), By: p.Ada.ID, Received: noon, Hash: "x"},
		caution:  caution(p, tracker.RingToday, 0), act: act(p, tracker.WillRingAt, 0),
		round:    tracker.Round{Day: today, Slot: "morning", DueAt: noon, UseBy: noon, State: tracker.RoundOpen},
		reminder: h.reminder(p, "2026-05-14 morning", 0),
	}
	h.across(t, func(g care.Gate) error { return g.AddSession(f.session, "token of "+f.session.ID) })
	f.stocked = h.stock(t, p)
	f.reached = h.reach(t, p, f.session.ID)
	f.asked = h.ask(t, p)
	f.said = h.say(t, p)
	h.addChecks(t, p, f.check)
	h.addEvents(t, p, f.event)
	h.addCautions(t, p, f.caution)
	h.addReminders(t, p, f.reminder)
	h.write(t, p, func(tx care.Tx) error {
		must(t, tx.AddLink(f.link))
		must(t, tx.AddConflict(f.conflict))
		must(t, tx.AddPhoto(f.photo, []byte{1}, []byte{2}))
		must(t, tx.AddAct(f.caution.ID, f.act, false))
		must(t, tx.SaveJudgement(fullJudgement(p.Wound.ID, today)))
		must(t, tx.SetWake(noon.Add(time.Hour)))
		return tx.AddRound(f.round)
	})
	return f
}

// leak is what a method gives when one yard calls it with what is another's: an error of kind NotFound, or
// nothing found.
type leak struct {
	err   error
	found any
}

// listed wants an empty list, refused and looked want a refusal, and quiet wants no answer at all: such a
// method must change nothing.
func listed(found any, err error) leak {
	if err == nil && reflect.ValueOf(found).Len() == 0 {
		return leak{}
	}
	return leak{err, found}
}

func refused(err error) leak       { return leak{err: err, found: "no refusal"} }
func looked(_ any, err error) leak { return refused(err) }
func quiet(err error) leak         { return leak{err: err} }

// leaksOut calls each method that looks, with what is another yard's.
func leaksOut(h *House, theirs filled) map[string]func(care.Tx) leak {
	p := h.Other
	return map[string]func(care.Tx) leak{
		"Yard":           func(tx care.Tx) leak { y, err := tx.Yard(); return leak{err, y.ID == p.Yard.ID} },
		"LookedAt":       func(tx care.Tx) leak { at, err := tx.LookedAt(); return leak{err, at != noon} }, // of no yard: one for all
		"Members":        func(tx care.Tx) leak { m, err := tx.Members(); return leak{err, len(m) != 2} },  // its own two
		"Sessions":       func(tx care.Tx) leak { return listed(tx.Sessions(p.Ada.ID)) },
		"Links":          func(tx care.Tx) leak { return listed(tx.Links(noon)) },
		"Horses":         func(tx care.Tx) leak { l, err := tx.Horses(); return leak{err, len(l) != 3} }, // its own three
		"Horse":          func(tx care.Tx) leak { return looked(tx.Horse(p.Bramble.ID)) },
		"Sites":          func(tx care.Tx) leak { return listed(tx.Sites(p.Tom.ID)) },
		"Site":           func(tx care.Tx) leak { return looked(tx.Site(p.Wound.ID)) },
		"SiteByRecord":   func(tx care.Tx) leak { _, _, err := tx.SiteByRecord(p.Wound.Record); return refused(err) },
		"NextSiteNumber": func(tx care.Tx) leak { n, err := tx.NextSiteNumber(p.Bramble.ID, tracker.RH); return leak{err, n != 1} }, // as of a horse without sites
		"Judgements":     func(tx care.Tx) leak { return listed(tx.Judgements(p.Tom.ID)) },
		"JudgementsOf":   func(tx care.Tx) leak { return listed(tx.JudgementsOf(p.Wound.ID, 1)) },
		"Checks":         func(tx care.Tx) leak { return listed(tx.Checks(care.CheckQuery{Site: p.Wound.ID})) },
		"Series":         func(tx care.Tx) leak { return listed(tx.Series(p.Wound.ID, 1, true)) },
		"CheckByRecord":  func(tx care.Tx) leak { return looked(tx.CheckByRecord(theirs.check.ID)) },
		"Ground": func(tx care.Tx) leak {
			line := theirs.check
			line.Subject, line.Site = tracker.OfLeg, ""
			if _, err := tx.Ground(line); tracker.KindOf(err) != tracker.NotFound {
				return refused(err)
			}
			return looked(tx.Ground(theirs.check))
		},
		"InRound": func(tx care.Tx) leak {
			beside := theirs.check
			beside.Root = newRecord()
			return listed(tx.InRound(beside))
		},
		"Versions":      func(tx care.Tx) leak { return listed(tx.Versions(theirs.check.Root)) },
		"FirstSizes":    func(tx care.Tx) leak { return listed(tx.FirstSizes(p.Bramble.ID)) },
		"LastSizes":     func(tx care.Tx) leak { return listed(tx.LastSizes(p.Bramble.ID)) },
		"LastLooks":     func(tx care.Tx) leak { return listed(tx.LastLooks(p.Bramble.ID)) },
		"Conflicts":     func(tx care.Tx) leak { return listed(tx.Conflicts()) },
		"Photo":         func(tx care.Tx) leak { return looked(tx.Photo(theirs.photo.ID)) },
		"PhotoBytes":    func(tx care.Tx) leak { return looked(tx.PhotoBytes(theirs.photo.ID, false)) },
		"LastPhotos":    func(tx care.Tx) leak { return listed(tx.LastPhotos(p.Bramble.ID)) },
		"PhotosOfSite":  func(tx care.Tx) leak { return listed(tx.PhotosOfSite(p.Wound.ID)) },
		"PhotosBetween": func(tx care.Tx) leak { return listed(tx.PhotosBetween(p.Bramble.ID, time.Time{}, far)) },
		"Events":        func(tx care.Tx) leak { return listed(tx.Events(p.Bramble.ID, 1)) },
		"EventByRecord": func(tx care.Tx) leak { return looked(tx.EventByRecord(theirs.event.ID)) },
		"LastReset":     func(tx care.Tx) leak { day, err := tx.LastReset(p.Wound, today); return leak{err, day != 0} },
		"OpenCautions":  func(tx care.Tx) leak { return listed(tx.OpenCautions()) },
		"CautionsSince": func(tx care.Tx) leak { return listed(tx.CautionsSince(p.Bramble.ID, time.Time{})) },
		"Caution":       func(tx care.Tx) leak { return looked(tx.Caution(theirs.caution.ID)) },
		"Rounds":        func(tx care.Tx) leak { return listed(tx.Rounds(1, today+99)) },
		"Reminders":     func(tx care.Tx) leak { return listed(tx.Reminders(care.ReminderQuery{})) },
	}
}

// leaksIn calls each method that changes, with what is another yard's.
func leaksIn(h *House, theirs filled) map[string]func(care.Tx) leak {
	p := h.Other
	return map[string]func(care.Tx) leak{
		"SaveYard":   func(tx care.Tx) leak { return refused(tx.SaveYard(p.Yard)) },
		"SetWake":    func(tx care.Tx) leak { return quiet(tx.SetWake(noon)) }, // takes no id
		"SetLeft":    func(tx care.Tx) leak { return refused(tx.SetLeft(p.Bea.ID, noon)) },
		"EndSession": func(tx care.Tx) leak { return refused(tx.EndSession(theirs.session.ID, noon)) },
		"AddLink": func(tx care.Tx) leak {
			return refused(tx.AddLink(care.Link{ID: NewID(), TokenHash: "x", Kind: care.InviteLink, Yard: p.Yard.ID}))
		},
		"StopLink":  func(tx care.Tx) leak { return refused(tx.StopLink(theirs.link.ID, noon)) },
		"AddHorse":  func(tx care.Tx) leak { return quiet(tx.AddHorse(p.Bramble)) }, // a horse of its own, which happens to have that id
		"SaveHorse": func(tx care.Tx) leak { return refused(tx.SaveHorse(p.Tom)) },
		"AddSite": func(tx care.Tx) leak {
			s := p.Wound
			s.Horse, s.Number = p.Tom.ID, 5
			return refused(tx.AddSite(s, ""))
		},
		"SaveSite":       func(tx care.Tx) leak { return refused(tx.SaveSite(p.Wound)) },
		"SaveJudgement":  func(tx care.Tx) leak { return refused(tx.SaveJudgement(fullJudgement(p.Wound.ID, today))) },
		"DropJudgements": func(tx care.Tx) leak { return quiet(tx.DropJudgements(p.Wound.ID, 1)) },
		"AddCheck":       func(tx care.Tx) leak { return refused(tx.AddCheck(Look(p, p.Wound, 1, tracker.Measured))) },
		"AddConflict":    func(tx care.Tx) leak { c := theirs.conflict; c.ID = NewID(); return refused(tx.AddConflict(c)) },
		"SettleConflict": func(tx care.Tx) leak { return refused(tx.SettleConflict(theirs.conflict.ID, h.Mine.Ada.ID, noon)) },
		"AddPhoto":       func(tx care.Tx) leak { return refused(tx.AddPhoto(photo(p, p.Wound.ID, 0), []byte{1}, []byte{1})) },
		"AddEvent":       func(tx care.Tx) leak { return refused(tx.AddEvent(event(p, tracker.Clipping, 0))) },
		"AddCaution":     func(tx care.Tx) leak { return refused(tx.AddCaution(caution(p, tracker.RingNow, 0))) },
		"AddAct": func(tx care.Tx) leak {
			return refused(tx.AddAct(theirs.caution.ID, act(h.Mine, tracker.Rang, 0), true))
		},
		"AddSighting": func(tx care.Tx) leak { return refused(tx.AddSighting(theirs.caution, tracker.Sighting{Seen: "x"})) },
		"RaiseLevel":  func(tx care.Tx) leak { return refused(tx.RaiseLevel(theirs.caution.ID, tracker.RingNow)) },
		"AddRound":    func(tx care.Tx) leak { return quiet(tx.AddRound(theirs.round)) }, // a round of its own
		"SaveRound":   func(tx care.Tx) leak { return refused(tx.SaveRound(theirs.round)) },
		"AddReminder": func(tx care.Tx) leak { m := theirs.reminder; m.Subject = "x"; return refused(tx.AddReminder(m)) },
		"Withdraw":    func(tx care.Tx) leak { return quiet(tx.Withdraw("round", theirs.reminder.Subject, "nosy")) },
		"AddAudit":    func(tx care.Tx) leak { return quiet(tx.AddAudit(care.Audit{ID: NewID(), At: noon, By: p.Ada.ID})) }, // into its own book
	}
}

// testLeaks calls every method of a transaction with what belongs to the yard next door, which must be
// refused as not there, or find nothing, and must leave the neighbour as it was.
func testLeaks(t *testing.T, h *House) {
	theirs := h.fill(t, h.Other)
	before := h.contents(t, h.Other)
	h.across(t, func(g care.Gate) error { return g.SetLookedAt(noon) })
	cases := reachLeaks(h, theirs, vetLeaks(h, theirs.said, planLeaks(h, theirs.asked, storeLeaks(h, theirs.stocked, leaksOut(h, theirs)))))
	maps.Copy(cases, leaksIn(h, theirs))
	var names []string
	for i := range reflect.TypeFor[care.Tx]().NumMethod() {
		if name := reflect.TypeFor[care.Tx]().Method(i).Name; name != "AddHorse" && name != "AddRound" {
			names = append(names, name)
		}
	}
	for _, name := range append(names, "AddHorse", "AddRound") { // last: what they add is then found here too
		call, ok := cases[name]
		if !ok {
			t.Errorf("no leak case for Tx.%s: add one", name)
			continue
		}
		var got leak
		err := h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
			got = call(tx)
			return got.err
		})
		switch found := got.found.(type) {
		case nil, bool:
			if err != nil || found == true {
				t.Errorf("Tx.%s with what is another yard's: %v, error %v", name, found, err)
			}
		default:
			if tracker.KindOf(err) != tracker.NotFound {
				t.Errorf("Tx.%s with what is another yard's: found %v, error %v, want one of kind NotFound", name, found, err)
			}
		}
		same(t, "the other yard after Tx."+name, h.contents(t, h.Other), before)
	}
}
