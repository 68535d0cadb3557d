package care_test

import (
	"testing"

	"leground/tracker"
)

// owners counts the owners who are in the yard.
func (m *marl) owners() (n int) {
	m.t.Helper()
	view, err := m.People(m.t.Context(), m.ada)
	m.must(err)
	for _, member := range view.Members {
		if member.Role == tracker.Owner && member.Left.IsZero() {
			n++
		}
	}
	return n
}

// Who is in a yard cannot join it again: the only owner would become a carer for good. The link is not used up.
func TestJoiningTheOwnYard(t *testing.T) {
	m := newMarl(t)
	token, err := m.Invite(t.Context(), m.ada, tracker.Carer, "")
	m.must(err)
	_, err = m.Join(t.Context(), token, "test", m.ada.Person.Name, m.ada.Person.Email, setUp().Password)
	wantKind(t, "an owner who opens her own invitation", err, tracker.Invalid)
	if want := "You are in this yard already. The link still works for somebody else."; err == nil || err.Error() != want {
		t.Errorf("the refusal says %v, want %q", err, want)
	}
	if m.owners() != 1 {
		t.Errorf("%d owners afterwards, want 1", m.owners())
	}
	session, err := m.Join(t.Context(), token, "test", "Eve", "eve@marlpit.example", "four words to keep")
	m.must(err)
	eve, err := m.Actor(t.Context(), session)
	m.must(err)
	m.must(m.Leave(t.Context(), m.ada, eve.Person.ID))
	token, err = m.Invite(t.Context(), m.ada, tracker.Owner, "")
	m.must(err)
	_, err = m.Join(t.Context(), token, "test", "Eve", "eve@marlpit.example", "four words to keep")
	m.must(err)
	if m.owners() != 2 {
		t.Errorf("%d owners after one who left came back as an owner, want 2", m.owners())
	}
}

// Of two owners who take each other out at the same time, the one who comes second stays.
func TestAnOwnerAlwaysStays(t *testing.T) {
	m := newMarl(t)
	token, err := m.Invite(t.Context(), m.ada, tracker.Owner, "")
	m.must(err)
	session, err := m.Join(t.Context(), token, "test", "Cy", "cy@marlpit.example", "four words to keep")
	m.must(err)
	cy, err := m.Actor(t.Context(), session) // both have been let in before either is out
	m.must(err)
	wantKind(t, "an owner who takes herself out", m.Leave(t.Context(), m.ada, m.ada.Person.ID), tracker.Invalid)
	m.must(m.Leave(t.Context(), m.ada, cy.Person.ID))
	wantKind(t, "an owner who was taken out a moment ago", m.Leave(t.Context(), cy, m.ada.Person.ID), tracker.Forbidden)
	if m.owners() != 1 {
		t.Errorf("%d owners afterwards, want 1", m.owners())
	}
	_, err = m.Actor(t.Context(), session)
	wantKind(t, "the session of somebody who is out", err, tracker.NotFound)
}
