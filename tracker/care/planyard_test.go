package care_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// yardTest is a made-up yard with an owner and a carer, a horse with two wounds, and a clock that a test sets.
// Its zone is Europe/London, on summer time; its rounds are at 07:00 and 18:30.
type yardTest struct {
	t *testing.T
	*care.Service
	db       *store.DB
	now      time.Time
	ada, bea care.Actor
	horse    tracker.HorseID
	rh1, lh1 tracker.Site
}

// clock sets the yard's local time, so many days after Thursday 14 May 2026.
func (y *yardTest) clock(days int, hhmm string) {
	y.t.Helper()
	minute, err := tracker.ParseMinuteOfDay(hhmm)
	must(y.t, err)
	y.now = time.Date(2026, 5, 14+days, 0, int(minute), 0, 0, time.UTC).Add(-time.Hour)
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func newYardTest(t *testing.T) *yardTest {
	t.Helper()
	y := &yardTest{t: t}
	y.clock(0, "09:00")
	var err error
	y.db, err = store.Open(t.Context(), t.TempDir(), y.now)
	must(t, err)
	t.Cleanup(func() { must(t, y.db.Close()) })
	y.Service = care.New(y.db, func() time.Time { return y.now })
	y.fill("Marlpit Yard")
	return y
}

// fill makes a yard and stands in it.
func (y *yardTest) fill(name string) {
	y.t.Helper()
	yard := tracker.Yard{ID: tracker.YardID(care.NewID()), Name: name, Zone: "Europe/London", Order: tracker.Legs(), LegWords: tracker.LeftRight, Mark: tracker.Point,
		Slots: tracker.DefaultSlots(), SpreadMM: 2, SizeEvery: 1, CreatedAt: y.now}
	for _, who := range []struct {
		to   *care.Actor
		name string
		role tracker.Role
	}{{&y.ada, "Ada", tracker.Owner}, {&y.bea, "Bea", tracker.Carer}} {
		person := tracker.Person{ID: tracker.PersonID(care.NewID()), Name: who.name, Email: who.name + "@" + care.NewID() + ".example"}
		*who.to = care.Actor{Yard: yard.ID, Person: person, Role: who.role}
	}
	must(y.t, y.db.Across(y.t.Context(), func(g care.Gate) error {
		must(y.t, g.AddYard(yard))
		for _, a := range []care.Actor{y.ada, y.bea} {
			must(y.t, g.AddPerson(a.Person, "", y.now))
			must(y.t, g.AddMember(yard.ID, a.Person.ID, a.Role, y.now))
		}
		return nil
	}))
	y.horse = tracker.HorseID(care.NewID())
	must(y.t, y.AddHorse(y.t.Context(), y.ada, tracker.Horse{ID: y.horse, Name: "Bramble"}))
	for _, s := range []struct {
		to  *tracker.Site
		leg tracker.Leg
	}{{&y.rh1, tracker.RH}, {&y.lh1, tracker.LH}} {
		site, err := y.AddSite(y.t.Context(), y.ada, care.NewSite{Record: care.NewRecord(), Horse: y.horse, Leg: s.leg, Region: tracker.Pastern, Aspect: tracker.Plantar, Kind: tracker.Wound})
		must(y.t, err)
		*s.to = site
	}
}

// wash is a plan of the vet for the right hind: twice a day for 7 days, then once a day until closed over.
func (y *yardTest) wash() care.PlanDraft {
	return care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Sites: []tracker.SiteID{y.rh1.ID}, Source: tracker.SetByVet, SetName: "Marlpit vet", Hash: "a",
		RingIf: []string{"the leg is hot above the fetlock"}, Steps: []care.StepDraft{
			{Field: "s1_", ID: care.NewID(), Kind: tracker.StepWash, Of: "chlorhexidine gluconate", Strength: "0.05 g per 100 mL", Minutes: 10, Phases: []tracker.PlanPhase{
				{Times: 2, Every: 1, Until: tracker.EndsDays, Count: 7}, {Times: 1, Every: 1, Until: tracker.EndsClosed}}},
			{Field: "s2_", ID: care.NewID(), Kind: tracker.StepDry, Phases: []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsVet}}},
		}}
}

func (y *yardTest) save(in care.PlanDraft) tracker.Plan {
	y.t.Helper()
	plan, err := y.SavePlan(y.t.Context(), y.ada, in)
	must(y.t, err)
	return plan
}

// due writes the Due list of a day as "Morning round: Wash ... for RH (open)".
func (y *yardTest) due(day tracker.Date) string {
	y.t.Helper()
	view, err := y.Due(y.t.Context(), y.bea, day)
	must(y.t, err)
	var lines []string
	for _, g := range view.Groups {
		for _, r := range g.Rows {
			state := map[care.DueState]string{care.DueOpen: "open", care.DuePart: "part", care.DueDone: "done", care.DueSkipped: "skipped"}[r.State]
			line := g.Name + ": " + r.Words
			if r.For != "" {
				line += " for " + r.For
			}
			lines = append(lines, line+" ("+state+")")
		}
	}
	return strings.ReplaceAll(strings.Join(lines, "\n"), "\u00a0", " ")
}

func (y *yardTest) wantDue(what, want string) {
	y.t.Helper()
	if diff := cmp.Diff(strings.TrimSpace(want), y.due(0)); diff != "" {
		y.t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

func (y *yardTest) row(words string) care.DueRow {
	y.t.Helper()
	view, err := y.Due(y.t.Context(), y.bea, 0)
	must(y.t, err)
	for _, g := range view.Groups {
		for _, r := range g.Rows {
			if strings.HasPrefix(r.Words, words) {
				return r
			}
		}
	}
	y.t.Fatalf("nothing due is called %s", words)
	return care.DueRow{}
}

func (y *yardTest) tick(r care.DueRow, outcome tracker.TickOutcome, why string) tracker.TickOff {
	y.t.Helper()
	tick := tracker.TickOff{ID: r.Record, Outcome: outcome, Items: r.Items, Day: r.Day, Slot: r.Slot, Why: why, Hash: why}
	must(y.t, y.TickOff(y.t.Context(), y.bea, tick, false))
	return tick
}

// line records a leg line of the round that is on, with care.
func (y *yardTest) line(leg tracker.Leg, care_ ...tracker.CareAct) {
	y.t.Helper()
	_, err := y.Record(y.t.Context(), y.bea, care.Entry{Check: tracker.Check{ID: care.NewRecord(), Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: y.horse, Leg: leg,
		Signs: tracker.Signs{tracker.Heat: 0}, Care: care_}})
	must(y.t, err)
}

func wantKind(t *testing.T, what string, err error, kind tracker.ErrorKind) {
	t.Helper()
	if tracker.KindOf(err) != kind {
		t.Errorf("%s: %v, want an error of kind %d", what, err, kind)
	}
}
