package care_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

func proposal(planText, ringIf string) tracker.Proposal {
	return tracker.Proposal{ID: care.NewRecord(), Name: "Marl vets", Plan: planText, RingIf: ringIf, Hash: planText + ringIf}
}

// A link shows one horse for 14 days, to nobody else and nothing else, and not a moment longer than the owner
// wants.
func TestVetLink(t *testing.T) {
	m := newMarl(t)
	site := m.finds(tracker.Wound)
	m.records(m.ada, look(site, 40, 30))
	tom := m.takesIn("Old Tom")
	picture := m.photographs(m.bramble)
	other := m.photographs(tom)

	_, err := m.MakeVetLink(t.Context(), m.bea, m.bramble.ID, "", nil)
	wantKind(t, "a link made by a carer", err, tracker.Forbidden)
	_, err = m.MakeVetLink(t.Context(), m.ada, m.bramble.ID, "", []tracker.PhotoID{other})
	wantKind(t, "a link with another horse's photo", err, tracker.NotFound)
	_, err = m.MakeVetLink(t.Context(), m.ada, m.bramble.ID, "", make([]tracker.PhotoID, 5))
	wantKind(t, "a link with five photos", err, tracker.Invalid)
	token, err := m.MakeVetLink(t.Context(), m.ada, m.bramble.ID, "Is a visit needed?", []tracker.PhotoID{picture})
	m.must(err)
	if len(token) < 43 {
		t.Errorf("the link's secret has %d letters: too few for 256 bits", len(token))
	}
	side := func() care.VetSide {
		t.Helper()
		s, err := m.VetSide(t.Context(), m.ada, m.bramble.ID)
		m.must(err)
		return s
	}
	if s := side(); len(s.Links) != 1 || !s.Links[0].OpenedAt.IsZero() || s.Links[0].TokenHash == token || s.Links[0].ExpiresAt.Sub(m.now) != 14*24*time.Hour {
		t.Errorf("before it was opened: %+v", s.Links)
	}
	if s, err := m.VetSide(t.Context(), m.ada, tom.ID); err != nil || len(s.Links) != 0 {
		t.Errorf("Old Tom has links of Bramble's: %+v, %v", s.Links, err)
	}
	if people, err := m.People(t.Context(), m.ada); err != nil || len(people.Links) != 0 {
		t.Errorf("it stands among the invitations: %+v, %v", people.Links, err)
	}
	m.now = m.now.Add(time.Hour)
	view, link, err := m.OpenVetLink(t.Context(), token)
	m.must(err)
	if view.Horse.ID != m.bramble.ID || len(view.Sites) != 1 || view.MadeBy != "Ada" || link.Note != "Is a visit needed?" || link.Photos[0] != picture {
		t.Errorf("the link opens %s with %d sites, made by %q, %+v", view.Horse.Name, len(view.Sites), view.MadeBy, link)
	}
	if s := side(); s.Links[0].OpenedAt != m.now {
		t.Errorf("opened at %v, want %v", s.Links[0].OpenedAt, m.now)
	}
	if data, err := m.PhotoByLink(t.Context(), token, picture, false); err != nil || len(data) != 1 {
		t.Errorf("its photo: %v, %v", data, err)
	}
	dead := map[string]func(token string) error{
		"the sheet":  func(token string) error { _, _, err := m.OpenVetLink(t.Context(), token); return err },
		"a photo":    func(token string) error { _, err := m.PhotoByLink(t.Context(), token, picture, true); return err },
		"a proposal": func(token string) error { return m.Propose(t.Context(), token, proposal("Wash.", "")) },
	}
	_, err = m.PhotoByLink(t.Context(), token, other, false)
	wantKind(t, "another horse's photo", err, tracker.NotFound)
	invitation, err := m.Invite(t.Context(), m.ada, tracker.Carer, "")
	m.must(err)
	for what, open := range dead {
		wantKind(t, what+" by no link", open("nonsense"), tracker.NotFound)
		wantKind(t, what+" by an invitation", open(invitation), tracker.NotFound)
	}
	_, err = m.SignInByLink(t.Context(), token, "test")
	wantKind(t, "signing in by it", err, tracker.NotFound)
	_, err = m.Join(t.Context(), token, "test", "Eve", "eve@marlpit.example", "four words to keep")
	wantKind(t, "joining by it", err, tracker.NotFound)

	opened := m.now
	m.now = link.ExpiresAt
	for what, open := range dead {
		wantKind(t, what+" after 14 days", open(token), tracker.NotFound)
	}
	m.now = opened
	m.must(m.StopLink(t.Context(), m.ada, link.ID))
	for what, open := range dead {
		wantKind(t, what+" after it was stopped", open(token), tracker.NotFound)
	}
	if s := side(); len(s.Links) != 0 || len(s.History) != 0 {
		t.Errorf("after all that: %+v", s)
	}
}

// photographs puts a photo of a leg line into the yard.
func (m *marl) photographs(horse tracker.Horse) tracker.PhotoID {
	m.t.Helper()
	id := tracker.PhotoID(care.NewID())
	c := tracker.Check{ID: care.NewRecord(), Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: horse.ID, Leg: tracker.LF, Signs: tracker.Signs{tracker.Heat: 0}, Hash: "x"}
	_, err := m.Record(m.t.Context(), m.ada, care.Entry{Check: c, Photo: &care.NewPhoto{Photo: tracker.Photo{ID: id, Width: 1, Height: 1, ThumbW: 1, ThumbH: 1}, Full: []byte{1}, Thumb: []byte{2}}})
	m.must(err)
	return id
}

// What a vet writes waits until an owner has read it, keeps its words and who answered when, and is shown as
// the vet's word only once it is accepted.
func TestProposals(t *testing.T) {
	m := newMarl(t)
	token, err := m.MakeVetLink(t.Context(), m.ada, m.bramble.ID, "", nil)
	m.must(err)
	said := proposal("Wash once a day, dry well.", "If any site grows for a week.")
	m.must(m.Propose(t.Context(), token, said))
	m.must(m.Propose(t.Context(), token, said)) // a double tap
	other := said
	other.Hash = "other"
	wantKind(t, "the same form with other words", m.Propose(t.Context(), token, other), tracker.Conflict)
	for what, p := range map[string]tracker.Proposal{
		"nothing": proposal(" ", ""), "a novel": proposal(strings.Repeat("x", 2001), ""), "a NUL": proposal("a\x00b", ""), "no record": {Name: "Vet", Plan: "x"},
		"nobody": {ID: care.NewRecord(), Plan: "x"},
	} {
		wantKind(t, "a proposal of "+what, m.Propose(t.Context(), token, p), tracker.Invalid)
	}
	word := func() int {
		t.Helper()
		sheet, err := m.Sheet(t.Context(), m.ada, m.bramble.ID)
		m.must(err)
		return len(sheet.Word)
	}
	board, err := m.Board(t.Context(), m.bea)
	m.must(err)
	if word() != 0 || len(board.Said) != 1 || board.Said[0].State != tracker.Waiting {
		t.Errorf("before it is read: %d words in force, on the Board %+v", word(), board.Said)
	}
	wantKind(t, "a carer's yes", m.AnswerProposal(t.Context(), m.bea, said.ID, tracker.Accepted), tracker.Forbidden)
	wantKind(t, "ending what was not accepted", m.AnswerProposal(t.Context(), m.ada, said.ID, tracker.Ended), tracker.Conflict)
	m.now = m.now.Add(time.Hour)
	m.must(m.AnswerProposal(t.Context(), m.ada, said.ID, tracker.Accepted))
	m.must(m.AnswerProposal(t.Context(), m.ada, said.ID, tracker.Accepted))
	wantKind(t, "a no after a yes", m.AnswerProposal(t.Context(), m.ada, said.ID, tracker.Declined), tracker.Conflict)
	side, err := m.VetSide(t.Context(), m.ada, m.bramble.ID)
	m.must(err)
	if p := side.History[0]; word() != 1 || p.State != tracker.Accepted || p.AnsweredBy != m.ada.Person.ID || p.AnsweredAt != m.now || p.Plan != said.Plan || p.Name != said.Name {
		t.Errorf("accepted: %+v", p)
	}
	m.now = m.now.Add(time.Hour)
	m.must(m.AnswerProposal(t.Context(), m.ada, said.ID, tracker.Ended))
	m.must(m.WriteDown(t.Context(), m.ada, tracker.Proposal{ID: care.NewRecord(), Horse: m.bramble.ID, Name: "the vet, by telephone", RingIf: "If she goes lame."}))
	wantKind(t, "a carer who writes it down", m.WriteDown(t.Context(), m.bea, proposal("x", "")), tracker.Forbidden)
	wantKind(t, "the word about no horse", m.WriteDown(t.Context(), m.ada, proposal("x", "")), tracker.NotFound)
	side, err = m.VetSide(t.Context(), m.ada, m.bramble.ID)
	m.must(err)
	if len(side.History) != 2 || word() != 1 || side.History[1].State != tracker.Ended || side.History[1].EndedAt != m.now || side.History[0].Link != "" {
		t.Errorf("the history: %+v", side.History)
	}
	for range 20 {
		m.must(m.Propose(t.Context(), token, proposal("x", "")))
	}
	wantKind(t, "the 21st that nobody has read", m.Propose(t.Context(), token, proposal("x", "")), tracker.Unavailable)
}

// The list for the vet has the most urgent first; sites that get worse together stand before one that does so
// alone, though its own label is the same.
func TestVetList(t *testing.T) {
	m := newMarl(t)
	add := func(horse tracker.Horse, leg tracker.Leg) tracker.Site {
		site, err := m.AddSite(t.Context(), m.ada, care.NewSite{Record: care.NewRecord(), Horse: horse.ID, Leg: leg, Region: tracker.UpperCannon, Aspect: tracker.Lateral, Kind: tracker.Wound})
		m.must(err)
		return site
	}
	tom, juni := m.takesIn("Old Tom"), m.takesIn("Juniper")
	alone := add(m.bramble, tracker.LF)
	one, two, calm := add(tom, tracker.LF), add(tom, tracker.RH), add(tom, tracker.LH)
	maggots := add(juni, tracker.RF)
	for day := range 21 {
		out := day // mm of length a day
		m.records(m.ada, look(alone, 40+2*out, 30+2*out))
		m.records(m.ada, look(one, 40+out, 30+out))
		m.records(m.ada, look(two, 50+out, 20+out))
		m.records(m.ada, look(calm, 40-day, 30-day))
		m.now = m.now.AddDate(0, 0, 1)
	}
	c := look(maggots, 20, 20)
	c.Dangers = []tracker.Danger{tracker.NotBearing}
	m.records(m.ada, c)
	view, err := m.VetList(t.Context(), m.bea)
	m.must(err)
	var got []string
	for _, n := range view.Needs {
		tag := "whole"
		if n.Site != nil {
			tag = n.Site.Site.Tag() + " " + n.Site.Judgement.Label
			if n.Together() {
				tag += " together"
			}
			if len(n.Site.Current) == 0 {
				t.Errorf("%s comes without a chart", tag)
			}
		}
		got = append(got, n.Horse.Name+" "+tag)
	}
	want := "Juniper whole, Old Tom LF 1 widening together, Old Tom RH 1 widening together, Bramble LF 1 widening, Old Tom whole"
	if s := strings.Join(got, ", "); s != want {
		t.Errorf("the list is\n%s, want\n%s", s, want)
	}
	// Acting on a caution closes it; a wound that widens stays on the list.
	for _, n := range view.Needs {
		for _, c := range n.Cautions {
			m.must(m.Act(t.Context(), m.ada, c.ID, tracker.CautionAct{ID: care.NewRecord(), Kind: tracker.Rang}))
		}
	}
	view, err = m.VetList(t.Context(), m.bea)
	m.must(err)
	if len(view.Needs) != 3 || !view.Needs[0].Together() || view.Needs[2].Horse.Name != "Bramble" {
		t.Errorf("after everybody was rung there are %d on the list: %+v", len(view.Needs), view.Needs)
	}
}

// A visit that is noted ahead lets a caution wait for it on its last day; with none it becomes ring today.
func TestDatedVisits(t *testing.T) {
	for what, c := range map[string]struct {
		visit int // days after the caution; 0: none noted
		want  tracker.Level
		once  bool // noted under what is due once, for the whole yard
	}{"no visit": {0, tracker.RingToday, false}, "a visit on day 7": {7, tracker.NextVisit, false}, "a visit on day 9": {9, tracker.RingToday, false},
		"due once on day 7": {7, tracker.NextVisit, true}, "due once on day 9": {9, tracker.RingToday, true}} {
		m := newMarl(t)
		site := m.finds(tracker.Patch)
		look := look(site, 40, 30)
		look.Signs = tracker.Signs{tracker.Thickening: 2}
		m.records(m.ada, look)
		day := tracker.DateOf(m.now)
		if c.visit > 0 {
			visit := day + tracker.Date(c.visit)
			if c.once {
				m.must(m.AddOneOff(t.Context(), m.ada, tracker.OneOff{ID: care.NewRecord(), Kind: tracker.VetComes, Day: visit}))
			} else {
				m.must(m.AddEvent(t.Context(), m.ada, tracker.Event{ID: care.NewRecord(), Kind: tracker.VetVisit, Horse: m.bramble.ID, Day: visit}))
			}
			if got := m.page().Visit; got != day+tracker.Date(c.visit) {
				t.Errorf("%s: the horse's page says the vet comes on %s", what, got)
			}
		}
		m.now = m.now.AddDate(0, 0, 7)
		m.must(m.Tick(context.Background()))
		for _, raised := range m.page().Cautions {
			if raised.Rule == "chronic" && raised.Level != c.want {
				t.Errorf("%s: on day 7 the caution is %s, want %s", what, raised.Level, c.want)
			}
		}
		if !strings.Contains(m.rules(), "chronic") {
			t.Errorf("%s: no caution was raised: %s", what, m.rules())
		}
	}
	m := newMarl(t)
	ahead := tracker.Event{ID: care.NewRecord(), Kind: tracker.Clipping, Horse: m.bramble.ID, Day: tracker.DateOf(m.now) + 1}
	wantKind(t, "clipped tomorrow", m.AddEvent(t.Context(), m.ada, ahead), tracker.Invalid)
	ahead.Kind, ahead.Day = tracker.FarrierVisit, ahead.Day+366
	wantKind(t, "a visit in over a year", m.AddEvent(t.Context(), m.ada, ahead), tracker.Invalid)
}

// What a site does beside its own label reaches the rules and the whole picture: it is found on a treated leg,
// it lies by a joint, it opens again, it joins another.
func TestSitesInTheWholePicture(t *testing.T) {
	m := newMarl(t)
	at := func(region tracker.Region, aspect tracker.Aspect) tracker.Site {
		site, err := m.AddSite(t.Context(), m.ada, care.NewSite{Record: care.NewRecord(), Horse: m.bramble.ID, Leg: tracker.RH, Region: region, Aspect: aspect, Kind: tracker.Wound})
		m.must(err)
		return site
	}
	for range 4 {
		c := tracker.Check{ID: care.NewRecord(), Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: m.bramble.ID, Leg: tracker.RH, Care: []tracker.CareAct{tracker.Washed}, Hash: "x"}
		m.records(m.ada, c)
		m.now = m.now.AddDate(0, 0, 1)
	}
	fetlock := at(tracker.Fetlock, tracker.Plantar)
	m.records(m.ada, look(fetlock, 30, 20))
	if got := m.rules(); !strings.Contains(got, "wound-by-joint:ring-now") || !strings.Contains(got, "new-site:ring-today") {
		t.Errorf("a quiet wound by a joint on a leg under care raises %q", got)
	}
	if p := m.page().Picture; len(p.New) != 1 || p.New[0] != fetlock.ID {
		t.Errorf("the whole picture: %+v", p)
	}
	cannon := at(tracker.UpperCannon, tracker.Lateral)
	m.measures(cannon, [2]int{8, 6}, [2]int{0, 0}, [2]int{0, 0})
	page := m.page()
	if s := page.Sites[1]; s.Judgement.Label != "closed over" || s.Site.Open() {
		t.Fatalf("the cannon is %q, open %v", s.Judgement.Label, s.Site.Open())
	}
	m.now = m.now.AddDate(0, 0, 1)
	m.must(m.Reopen(t.Context(), m.ada, care.NewRecord(), cannon.ID))
	if s := m.page().Sites[1]; !s.Site.Open() {
		t.Error("a site that was opened again is closed")
	}
	if got := m.rules(); !strings.Contains(got, "came-back:next-visit") {
		t.Errorf("a site that opens again raises %q", got)
	}
	m.must(m.AddEvent(t.Context(), m.ada, tracker.Event{ID: care.NewRecord(), Kind: tracker.Clipping, Horse: m.bramble.ID, Leg: tracker.RH}))
	if page = m.page(); !page.Sites[1].Site.Open() || len(page.Picture.Reopened) != 1 {
		t.Errorf("after the leg was clipped: open %v, picture %+v", page.Sites[1].Site.Open(), page.Picture)
	}
	m.records(m.ada, look(cannon, 12, 9))
	m.must(m.JoinSites(t.Context(), m.ada, care.NewRecord(), cannon.ID, fetlock.ID))
	if got := m.rules(); !strings.Contains(got, "joined:ring-today") {
		t.Errorf("sites that join raise %q", got)
	}
	m.records(m.ada, look(fetlock, 60, 40))
	page = m.page()
	if j := page.Sites[0].Judgement; page.Picture.Sites != 1 || j.FirstDay != tracker.DateOf(m.now) || j.Label == "widening" {
		t.Errorf("after joining, %d sites are looked at and the series begins on %s: %s", page.Picture.Sites, j.FirstDay, j.Label)
	}
}
