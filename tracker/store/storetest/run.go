// Package storetest is the one suite of tests that every database of package store must pass. It works
// through care's Store as the program does, on a made-up yard and its neighbour, and makes sure for every
// method that nothing of one yard can be read or changed from the other.
package storetest

import (
	"reflect"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// Open gives a fresh, empty database that is closed with the test.
type Open func(testing.TB) *store.DB

// Run runs the suite. The tests share one database, and none may see the yards of another; those that are
// about all yards have one of their own.
func Run(t *testing.T, open Open) {
	t.Run("wake", func(t *testing.T) { testWake(t, NewHouse(t, open(t))) })
	db := open(t)
	t.Run("together", func(t *testing.T) {
		for name, test := range map[string]func(*testing.T, *House){
			"yards": testYards, "members": testMembers, "accounts": testAccounts, "sessions": testSessions, "links": testLinks,
			"horses": testHorses, "sites": testSites, "judgements": testJudgements, "checks": testChecks, "versions": testVersions,
			"check lists": testCheckLists, "ends of sites": testEnds, "series": testSeries, "conflicts": testConflicts, "photos": testPhotos,
			"events": testEvents, "resets": testResets, "cautions": testCautions, "stores": testStores, "bad values of stores": testStoreBadValues, "plans": testPlans, "settings": testSettings, "proposals": testProposals, "second readings": testPairs, "caution counts": testCautionCounts, "dues": testDues, "bad values of plans": testPlanBadValues,
			"rounds": testRounds, "reminders": testReminders,
			"claims": testClaims, "leases": testLeases, "withdrawn": testWithdrawn, "late": testLate, "leaks": testLeaks,
			"references": testReferences, "no yard": testNoYard, "rollback": testRollback, "sixteen writers": testWriters,
			"bad among good": testBadAmongGood, "one after the other": testSerial, "same form at once": testSameForm, "claims at once": testClaimsAtOnce, "readers": testReaders,
			"reach": testReach, "lives of reminders": testLives, "secrets": testSecrets,
			"bad values": testBadValues, "failed change": testFailedChange, "counts": testCounts,
		} {
			t.Run(name, func(t *testing.T) {
				t.Parallel()
				test(t, NewHouse(t, db))
			})
		}
	})
}

// noon is the instant at which the made-up yards are set up.
var noon = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

// today is the day of noon.
var today = tracker.DateOf(noon)

// House is two yards that are alike in one database, with a channel of their own for reminders.
type House struct {
	DB      *store.DB
	Channel string
	Mine    Place
	Other   Place
}

// Place is one made-up yard with its people, three horses and a wound and a patch on the first.
type Place struct {
	Yard               tracker.Yard
	Ada, Bea           tracker.Person
	Bramble, Tom, Juni tracker.Horse
	Wound, Patch       tracker.Site
}

// NewID makes an id.
func NewID() string { return uuid.Must(uuid.NewV7()).String() }

// NewHouse sets up both yards.
func NewHouse(t testing.TB, db *store.DB) *House {
	t.Helper()
	h := &House{DB: db, Channel: "email " + NewID(), Mine: newPlace("Marlpit Yard"), Other: newPlace("Sandpit Yard")}
	for _, p := range []Place{h.Mine, h.Other} {
		p.add(t, db)
	}
	return h
}

func newPlace(name string) Place {
	p := Place{
		Yard: tracker.Yard{
			ID: tracker.YardID(NewID()), Name: name, Zone: "Europe/London", Order: tracker.Legs(), LegWords: tracker.LeftRight,
			Mark: tracker.Point, RingName: "Marlpit vet", RingNumber: "01234 000000", Slots: tracker.DefaultSlots(), SpreadMM: 1.6,
			SizeEvery: 2, MadeUp: true, CreatedAt: noon,
		},
	}
	for _, person := range []struct {
		to   *tracker.Person
		name string
	}{{&p.Ada, "Ada"}, {&p.Bea, "Bea"}} {
		*person.to = tracker.Person{ID: tracker.PersonID(NewID()), Name: person.name, Email: person.name + "@" + NewID() + ".test"}
	}
	for i, horse := range []struct {
		to   *tracker.Horse
		name string
	}{{&p.Bramble, "Bramble"}, {&p.Tom, "Old Tom"}, {&p.Juni, "Juniper"}} {
		*horse.to = tracker.Horse{ID: tracker.HorseID(NewID()), Name: horse.name, Place: tracker.Here, Position: i + 1, CreatedAt: noon}
	}
	for i, site := range []struct {
		to   *tracker.Site
		kind tracker.SiteKind
	}{{&p.Wound, tracker.Wound}, {&p.Patch, tracker.Patch}} {
		*site.to = tracker.Site{
			ID: tracker.SiteID(NewID()), Horse: p.Bramble.ID, Leg: tracker.RH, Number: i + 1, Region: tracker.Pastern, Aspect: tracker.Plantar,
			Kind: site.kind, OpenedAt: noon, OpenedBy: p.Ada.ID, Record: newRecord(),
		}
	}
	return p
}

func newRecord() tracker.RecordID { return tracker.RecordID(NewID()) }

func (p Place) add(t testing.TB, db *store.DB) {
	t.Helper()
	must(t, db.Across(t.Context(), func(g care.Gate) error {
		if err := g.AddYard(p.Yard); err != nil {
			return err
		}
		for _, person := range []tracker.Person{p.Ada, p.Bea} {
			if err := g.AddPerson(person, "hash of "+person.Name, noon); err != nil {
				return err
			}
			role := tracker.Carer
			if person == p.Ada {
				role = tracker.Owner
			}
			if err := g.AddMember(p.Yard.ID, person.ID, role, noon); err != nil {
				return err
			}
		}
		return nil
	}))
	must(t, db.Write(t.Context(), p.Yard.ID, func(tx care.Tx) error {
		for _, horse := range []tracker.Horse{p.Bramble, p.Tom, p.Juni} {
			if err := tx.AddHorse(horse); err != nil {
				return err
			}
		}
		for _, site := range []tracker.Site{p.Wound, p.Patch} {
			if err := tx.AddSite(site, "hash of "+string(site.Record)); err != nil {
				return err
			}
		}
		return nil
	}))
}

// write runs do in a write of the place's yard and requires that it goes well.
func (h *House) write(t testing.TB, p Place, do func(care.Tx) error) {
	t.Helper()
	must(t, h.DB.Write(t.Context(), p.Yard.ID, do))
}

// read runs do in a read of the place's yard and requires that it goes well.
func (h *House) read(t testing.TB, p Place, do func(care.Tx) error) {
	t.Helper()
	must(t, h.DB.Read(t.Context(), p.Yard.ID, do))
}

// across does the same across yards.
func (h *House) across(t testing.TB, do func(care.Gate) error) {
	t.Helper()
	must(t, h.DB.Across(t.Context(), do))
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// wantKind requires a refusal of a kind.
func wantKind(t testing.TB, what string, err error, kind tracker.ErrorKind) {
	t.Helper()
	if tracker.KindOf(err) != kind {
		t.Errorf("%s: error %v, want one of kind %d", what, err, kind)
	}
}

// same requires two values to be equal.
func same(t testing.TB, what string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// wantFilled requires that a value which a test sends to the database and back leaves no field at zero, so
// that a field which somebody adds is not forgotten in the store.
func wantFilled(t testing.TB, v any, except ...string) {
	t.Helper()
	skip := map[string]bool{}
	for _, name := range except {
		skip[name] = true
	}
	value := reflect.ValueOf(v)
	for i := range value.NumField() {
		name, field := value.Type().Field(i).Name, value.Field(i)
		if skip[name] {
			continue
		}
		if field.IsZero() {
			t.Errorf("%T.%s is zero: fill it, and keep it in the store", v, name)
		} else if field.Kind() == reflect.Struct && field.Type() != reflect.TypeFor[time.Time]() {
			wantFilled(t, field.Interface())
		}
	}
}

// far is an instant later than all others in these tests.
var far = noon.AddDate(100, 0, 0)
