package care_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// marl is Marlpit Yard with a clock that the test sets: Ada owns it, Bea is a carer, Bramble stands in it.
type marl struct {
	*care.Service
	t        *testing.T
	db       *store.DB
	now      time.Time
	ada, bea care.Actor
	bramble  tracker.Horse
}

func newMarl(t *testing.T) *marl {
	t.Helper()
	m := &marl{t: t, now: time.Date(2026, 5, 1, 9, 0, 0, 0, time.UTC)}
	var err error
	m.db, err = store.Open(t.Context(), t.TempDir(), m.now)
	m.must(err)
	t.Cleanup(func() { m.must(m.db.Close()) })
	m.Service = care.New(m.db, func() time.Time { return m.now })
	token, err := m.FirstLink(t.Context())
	m.must(err)
	in := setUp()
	in.RingName, in.RingNumber = "Marl vets", "01234 000000"
	session, err := m.OpenYard(t.Context(), token, "test", in)
	m.must(err)
	m.ada, err = m.Actor(t.Context(), session)
	m.must(err)
	m.bea = m.joins("Bea")
	m.bramble = m.takesIn("Bramble")
	return m
}

func (m *marl) must(err error) {
	m.t.Helper()
	if err != nil {
		m.t.Fatal(err)
	}
}

func (m *marl) joins(name string) care.Actor {
	m.t.Helper()
	token, err := m.Invite(m.t.Context(), m.ada, tracker.Carer, "")
	m.must(err)
	session, err := m.Join(m.t.Context(), token, "test", name, strings.ToLower(name)+"@marlpit.example", "four words to keep")
	m.must(err)
	actor, err := m.Actor(m.t.Context(), session)
	m.must(err)
	return actor
}

func (m *marl) takesIn(name string) tracker.Horse {
	m.t.Helper()
	horse := tracker.Horse{ID: tracker.HorseID(care.NewID()), Name: name, Tetanus: tracker.Tetanus{Last: tracker.DateOf(m.now) - 10}}
	m.must(m.AddHorse(m.t.Context(), m.ada, horse))
	return horse
}

// finds adds a wound; where no joint lies close under the skin, so that no rule is about its place.
func (m *marl) finds(kind tracker.SiteKind) tracker.Site {
	m.t.Helper()
	site, err := m.AddSite(m.t.Context(), m.ada, care.NewSite{Record: care.NewRecord(), Horse: m.bramble.ID, Leg: tracker.RH, Region: tracker.UpperCannon, Aspect: tracker.Lateral, Kind: kind})
	m.must(err)
	return site
}

// look is a check of a site without anything to note.
func look(site tracker.Site, length, width int) tracker.Check {
	c := tracker.Check{ID: care.NewRecord(), Subject: tracker.OfSite, Outcome: tracker.Looked, Site: site.ID, SkinSeen: true,
		Signs: tracker.Signs{tracker.Exudate: 0, tracker.Pain: 0}, Hash: "hash"}
	c.Size = tracker.Size{Answer: tracker.Measured, LengthMM: length, WidthMM: width, Method: tracker.Ruler}
	if length == 0 {
		c.Size = tracker.Size{Answer: tracker.ClosedOver}
	}
	return c
}

func (m *marl) records(a care.Actor, c tracker.Check) care.Saved {
	m.t.Helper()
	saved, err := m.Record(m.t.Context(), a, care.Entry{Check: c})
	m.must(err)
	return saved
}

// measures records a size each day from now on, and leaves the clock on the last of them.
func (m *marl) measures(site tracker.Site, sizes ...[2]int) {
	m.t.Helper()
	for i, s := range sizes {
		if i > 0 {
			m.now = m.now.AddDate(0, 0, 1)
		}
		m.records(m.ada, look(site, s[0], s[1]))
	}
}

func (m *marl) page() care.HorseView {
	m.t.Helper()
	view, err := m.Horse(m.t.Context(), m.ada, m.bramble.ID, 0)
	m.must(err)
	return view
}

// label is the newest label of the horse's first site.
func (m *marl) label() string {
	m.t.Helper()
	j := m.page().Sites[0].Judgement
	if j == nil {
		return ""
	}
	return j.Label
}

// rules lists the rules of cautions that were raised, newest first.
func (m *marl) rules() string {
	m.t.Helper()
	var out []string
	for _, c := range m.page().Cautions {
		out = append(out, fmt.Sprintf("%s:%s", c.Rule, c.Level))
	}
	return strings.Join(out, " ")
}
