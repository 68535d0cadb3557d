package storetest

import (
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

func testMembers(t *testing.T, h *House) {
	members := func(p Place) (found []tracker.Member) {
		h.read(t, p, func(tx care.Tx) (err error) { found, err = tx.Members(); return err })
		return found
	}
	ada := tracker.Member{Person: h.Mine.Ada, Role: tracker.Owner, Joined: noon}
	bea := tracker.Member{Person: h.Mine.Bea, Role: tracker.Carer, Joined: noon}
	same(t, "members by name", members(h.Mine), []tracker.Member{ada, bea})

	bea.Left = noon.Add(time.Hour)
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SetLeft(bea.ID, bea.Left) })
	same(t, "members after one left", members(h.Mine), []tracker.Member{ada, bea})

	again := noon.Add(2 * time.Hour)
	h.across(t, func(g care.Gate) error { return g.AddMember(h.Mine.Yard.ID, bea.ID, tracker.Owner, again) })
	bea.Left, bea.Role, bea.Joined = time.Time{}, tracker.Owner, again
	same(t, "members after she came back", members(h.Mine), []tracker.Member{ada, bea})

	// One person in both yards: each yard sees them once, with the role they have there.
	h.across(t, func(g care.Gate) error { return g.AddMember(h.Other.Yard.ID, h.Mine.Ada.ID, tracker.Carer, noon) })
	same(t, "a yard with a person of two yards", members(h.Mine), []tracker.Member{ada, bea})
	if got := members(h.Other); len(got) != 3 {
		t.Errorf("the other yard has %d members, want 3", len(got))
	}
}

func testAccounts(t *testing.T, h *House) {
	account := func(find func(care.Gate) (care.Account, error)) (a care.Account, err error) {
		err = h.DB.AcrossRead(t.Context(), func(g care.Gate) error { a, err = find(g); return err })
		return a, err
	}
	byName := func(g care.Gate) (care.Account, error) { return g.Account(h.Mine.Ada.Email) }
	byID := func(g care.Gate) (care.Account, error) { return g.AccountByID(h.Mine.Ada.ID) }
	want := care.Account{Person: h.Mine.Ada, PasswordHash: "hash of Ada", Yards: []care.Membership{{Yard: h.Mine.Yard.ID, Name: "Marlpit Yard", Role: tracker.Owner}}}
	for _, find := range []func(care.Gate) (care.Account, error){byName, byID} {
		got, err := account(find)
		must(t, err)
		same(t, "an account", got, want)
	}
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SetLeft(h.Mine.Ada.ID, noon) })
	got, err := account(byName)
	must(t, err)
	same(t, "an account that left its yard", got, care.Account{Person: h.Mine.Ada, PasswordHash: "hash of Ada"})
	_, err = account(func(g care.Gate) (care.Account, error) { return g.Account("nobody@" + NewID()) })
	wantKind(t, "an unknown name", err, tracker.NotFound)
	wantKind(t, "a name that is taken", h.DB.Across(t.Context(), func(g care.Gate) error {
		return g.AddPerson(tracker.Person{ID: tracker.PersonID(NewID()), Name: "Ada", Email: h.Mine.Ada.Email}, "x", noon)
	}), tracker.Conflict)

	h.across(t, func(g care.Gate) error {
		any, err := g.AnyYard()
		if !any {
			t.Error("there are yards, and AnyYard says no")
		}
		return err
	})
	delay := func(name string) (failures int, notBefore time.Time) {
		must(t, h.DB.AcrossRead(t.Context(), func(g care.Gate) (err error) { failures, notBefore, err = g.Delay(name); return err }))
		return failures, notBefore
	}
	name := NewID()
	for _, n := range []int{1, 2, 0} {
		at := time.Time{}
		if n > 0 {
			at = noon.Add(time.Duration(n) * time.Second)
		}
		h.across(t, func(g care.Gate) error { return g.SetDelay(name, n, at) })
		failures, notBefore := delay(name)
		same(t, "failures", failures, n)
		same(t, "not before", notBefore, at)
	}
}

func testSessions(t *testing.T, h *House) {
	token1, token2 := NewID(), NewID()
	session := care.Session{ID: NewID(), Yard: h.Mine.Yard.ID, Person: h.Mine.Ada, Role: tracker.Owner, Device: "a phone", Created: noon, Seen: noon}
	wantFilled(t, session)
	newer := session
	newer.ID, newer.Seen = NewID(), noon.Add(time.Hour)
	h.across(t, func(g care.Gate) error {
		if err := g.AddSession(session, token1); err != nil {
			return err
		}
		return g.AddSession(newer, token2)
	})
	byToken := func(token string) (s care.Session, err error) {
		err = h.DB.AcrossRead(t.Context(), func(g care.Gate) error { s, err = g.SessionByToken(token); return err })
		return s, err
	}
	sessions := func() (found []care.Session) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { found, err = tx.Sessions(h.Mine.Ada.ID); return err })
		return found
	}
	got, err := byToken(token1)
	must(t, err)
	same(t, "a session", got, session)
	same(t, "sessions, last seen first", sessions(), []care.Session{newer, session})
	session.Seen = noon.Add(2 * time.Hour)
	h.across(t, func(g care.Gate) error { return g.SetSeen(session.ID, session.Seen) })
	same(t, "sessions after the other was used", sessions(), []care.Session{session, newer})

	h.write(t, h.Mine, func(tx care.Tx) error { return tx.EndSession(newer.ID, noon) })
	_, err = byToken(token2)
	wantKind(t, "an ended session", err, tracker.NotFound)
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SetLeft(h.Mine.Ada.ID, noon) })
	_, err = byToken(token1)
	wantKind(t, "the session of somebody who left", err, tracker.NotFound)
	h.across(t, func(g care.Gate) error { return g.AddMember(h.Mine.Yard.ID, h.Mine.Ada.ID, tracker.Carer, noon) })
	got, err = byToken(token1)
	must(t, err)
	same(t, "the role of a session", got.Role, tracker.Carer)
	h.across(t, func(g care.Gate) error { return g.EndSessionByToken(token1, noon) })
	_, err = byToken(token1)
	wantKind(t, "a session that was signed out", err, tracker.NotFound)
	wantKind(t, "a session for somebody of another yard", h.DB.Across(t.Context(), func(g care.Gate) error {
		return g.AddSession(care.Session{ID: NewID(), Yard: h.Mine.Yard.ID, Person: h.Other.Ada, Created: noon, Seen: noon}, NewID())
	}), tracker.NotFound)
}

func testLinks(t *testing.T, h *House) {
	link1, link2, link3 := NewID(), NewID(), NewID()
	link := care.Link{
		ID: NewID(), TokenHash: link1, Kind: care.InviteLink, Yard: h.Mine.Yard.ID, Person: h.Mine.Bea.ID, Role: tracker.Carer, Horse: h.Mine.Tom.ID,
		Note: "for Bea", Photos: []tracker.PhotoID{"a", "b"}, MadeBy: h.Mine.Ada.ID, MadeAt: noon, ExpiresAt: noon.Add(time.Hour), OpenedAt: noon.Add(time.Minute),
	}
	wantFilled(t, link, "UsedAt", "StoppedAt")
	newer := care.Link{ID: NewID(), TokenHash: link2, Kind: care.InviteLink, Yard: h.Mine.Yard.ID, MadeAt: noon.Add(time.Second), ExpiresAt: noon.Add(2 * time.Hour)}
	h.write(t, h.Mine, func(tx care.Tx) error {
		if err := tx.AddLink(link); err != nil {
			return err
		}
		return tx.AddLink(newer)
	})
	byToken := func(token string) (l care.Link) {
		must(t, h.DB.AcrossRead(t.Context(), func(g care.Gate) (err error) { l, err = g.LinkByToken(token); return err }))
		return l
	}
	links := func(at time.Time) (found []care.Link) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { found, err = tx.Links(at); return err })
		return found
	}
	same(t, "a link", byToken(link1), link)
	same(t, "links, newest first", links(noon), []care.Link{newer, link})
	same(t, "links when one has expired", links(link.ExpiresAt), []care.Link{newer})
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.StopLink(newer.ID, noon.Add(time.Minute)) })
	same(t, "links when one is stopped", links(noon), []care.Link{link})
	h.across(t, func(g care.Gate) error { return g.SetLinkOpened(link.ID, noon.Add(3*time.Minute)) })
	h.across(t, func(g care.Gate) error { return g.SetLinkUsed(link.ID, noon.Add(4*time.Minute)) })
	link.OpenedAt, link.UsedAt = noon.Add(3*time.Minute), noon.Add(4*time.Minute)
	same(t, "a used link", byToken(link1), link)
	wantKind(t, "using a link twice", h.DB.Across(t.Context(), func(g care.Gate) error { return g.SetLinkUsed(link.ID, noon) }), tracker.NotFound)
	if got := byToken(link2); got.StoppedAt != noon.Add(time.Minute) || got.Live(noon) {
		t.Errorf("a stopped link is still live: %+v", got)
	}

	first := care.Link{ID: NewID(), TokenHash: link3, Kind: care.SetUpLink, Role: tracker.Owner, MadeAt: noon, ExpiresAt: noon.Add(time.Hour)}
	h.across(t, func(g care.Gate) error { return g.AddLink(first) })
	same(t, "a link of no yard", byToken(link3), first)
	wantKind(t, "an unknown link", h.DB.AcrossRead(t.Context(), func(g care.Gate) error { _, err := g.LinkByToken("nonsense"); return err }), tracker.NotFound)
}
