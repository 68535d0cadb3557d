package care

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"leground/tracker"
)

const (
	sessionIdle  = 90 * 24 * time.Hour // a phone kept in the yard
	linkLife     = 7 * 24 * time.Hour
	freeFailures = 3                // failed sign-ins before the delay starts
	longestDelay = 15 * time.Minute // of the growing delay
)

// SetUp is what the first page asks: a yard and its owner.
type SetUp struct {
	YardName, Zone              string
	RingName, RingNumber        string
	PersonName, Email, Password string
	Order                       tracker.WalkingOrder
	LegWords                    tracker.LegWords
	Mark                        tracker.DecimalMark
}

// FirstLink makes the one-time set-up link while there is no yard. It gives an empty token when one exists.
func (s *Service) FirstLink(ctx context.Context) (token string, err error) {
	now := s.now()
	err = s.store.Across(ctx, func(g Gate) error {
		token = ""
		any, err := g.AnyYard()
		if err != nil || any {
			return err
		}
		secret, hash := newToken()
		token = secret
		return g.AddLink(Link{ID: NewID(), TokenHash: hash, Kind: SetUpLink, Role: tracker.Owner, MadeAt: now, ExpiresAt: now.Add(linkLife)})
	})
	return token, err
}

// LinkFor finds a live link by which somebody gets in. It changes nothing: mail scanners open links.
func (s *Service) LinkFor(ctx context.Context, token string) (Link, error) {
	link, err := s.findLink(ctx, token)
	if err == nil && link.Kind != SetUpLink && link.Kind != InviteLink && link.Kind != SignInLink {
		return Link{}, errUsedLink
	}
	return link, err
}

// findLink finds a live link of any kind by its secret.
func (s *Service) findLink(ctx context.Context, token string) (Link, error) {
	var link Link
	err := s.store.AcrossRead(ctx, func(g Gate) (err error) {
		link, err = liveLink(g, token, s.now())
		return err
	})
	return link, err
}

var errUsedLink = tracker.Refuse(tracker.NotFound, "This link has been used, stopped or is too old. Ask for a new one.")

func liveLink(g Gate, token string, now time.Time) (Link, error) {
	link, err := g.LinkByToken(HashToken(token))
	if err == nil && !link.Live(now) {
		err = errUsedLink
	}
	if err != nil || link.Kind != SetUpLink || link.MadeBy != "" {
		return link, err
	}
	// The program itself makes one at each start until there is a yard; the earlier ones end with it too.
	any, err := g.AnyYard()
	if err == nil && any {
		err = tracker.Refuse(tracker.NotFound, "There is a yard here already. Sign in, or ask its owner for an invitation.")
	}
	return link, err
}

// OpenYard uses a set-up link: it makes the yard and its owner and signs them in.
func (s *Service) OpenYard(ctx context.Context, token, device string, in SetUp) (session string, err error) {
	if err := in.Problems().Err(); err != nil {
		return "", err
	}
	passwordHash := s.hash.make(in.Password)
	return s.enter(ctx, token, device, SetUpLink, "This link does not open a new yard.", func(g Gate, link Link, now time.Time) (tracker.YardID, tracker.Person, error) {
		yard := in.yard(now)
		person := tracker.Person{ID: tracker.PersonID(NewID()), Name: strings.TrimSpace(in.PersonName), Email: signInName(in.Email)}
		if err := addFirst(g, yard, person, passwordHash, now); err != nil {
			return "", person, err
		}
		return yard.ID, person, g.SetLinkUsed(link.ID, now)
	})
}

// enter signs in whoever a live link of a kind lets in; with a link of another kind it says so. by does what the link is
// for and gives who that is, and into which yard.
func (s *Service) enter(ctx context.Context, token, device string, kind LinkKind, other string, by func(Gate, Link, time.Time) (tracker.YardID, tracker.Person, error)) (session string, err error) {
	now := s.now()
	err = s.store.Across(ctx, func(g Gate) error {
		link, err := liveLink(g, token, now)
		if err == nil && link.Kind != kind {
			err = tracker.Refuse(tracker.NotFound, other)
		}
		if err != nil {
			return err
		}
		yard, person, err := by(g, link, now)
		if err != nil {
			return err
		}
		session, err = startSession(g, yard, person, device, now)
		return err
	})
	return session, err
}

func addFirst(g Gate, yard tracker.Yard, owner tracker.Person, passwordHash string, now time.Time) error {
	return cmp.Or(g.AddYard(yard), g.AddPerson(owner, passwordHash, now), g.AddMember(yard.ID, owner.ID, tracker.Owner, now))
}

// Problems lists the answers that cannot be right.
func (in SetUp) Problems() tracker.Problems {
	var p tracker.Problems
	checkName(&p, "yard", in.YardName, "The yard's name")
	checkPerson(&p, in.PersonName, in.Email, in.Password)
	checkZoneAndOrder(&p, in.Zone, in.Order)
	return p
}

// checkZoneAndOrder notes a zone that is none, and a walking order that does not name each leg.
func checkZoneAndOrder(p *tracker.Problems, zone string, order tracker.WalkingOrder) {
	if _, err := time.LoadLocation(zone); err != nil || zone == "" || zone == "Local" {
		p.Add("zone", "The time zone must be a name like Europe/London.")
	}
	if len(order) != 4 {
		p.Add("order", "The walking order must name LF, RF, RH and LH once each.")
	}
}

func (in SetUp) yard(now time.Time) tracker.Yard {
	return tracker.Yard{
		ID: tracker.YardID(NewID()), Name: strings.TrimSpace(in.YardName), Zone: in.Zone, Order: in.Order, LegWords: in.LegWords,
		Mark: in.Mark, RingName: strings.TrimSpace(in.RingName), RingNumber: strings.TrimSpace(in.RingNumber),
		Slots: tracker.DefaultSlots(), SpreadMM: tracker.DefaultSpreadMM, SizeEvery: 1, CreatedAt: now,
	}
}

func checkName(p *tracker.Problems, field, name, what string) {
	name = strings.TrimSpace(name)
	if n := utf8.RuneCountInString(name); n < 1 || n > 80 || strings.ContainsAny(name, "\r\n\x00") {
		p.Add(field, what+" must have 1 to 80 letters on one line.")
	}
}

func checkPerson(p *tracker.Problems, name, email, password string) {
	checkName(p, "name", name, "Your name")
	if mail := signInName(email); len(mail) > 254 || !strings.Contains(strings.Trim(mail, "@"), "@") || strings.ContainsAny(mail, " \r\n\t<>,;\x00") {
		p.Add("email", "The e-mail address must look like ada@example.org.")
	}
	checkPassword(p, "password", password)
}

func signInName(email string) string { return strings.ToLower(strings.TrimSpace(email)) }

// Invite makes a link by which one more person joins the yard. Only its secret is shown, once.
func (s *Service) Invite(ctx context.Context, a Actor, role tracker.Role, noteText string) (token string, err error) {
	token, hash := newToken()
	err = s.owning(ctx, a, func(tx Tx, now time.Time) error {
		if role != tracker.Owner && role != tracker.Carer {
			return tracker.Refuse(tracker.Invalid, "Choose whether they join as a carer or as an owner.")
		}
		link := Link{ID: NewID(), TokenHash: hash, Kind: InviteLink, Yard: a.Yard, Role: role, Note: noteText, MadeBy: a.Person.ID, MadeAt: now, ExpiresAt: now.Add(linkLife)}
		if err := tx.AddLink(link); err != nil {
			return err
		}
		return note(tx, a, now, "invitation made", link.ID, role.String())
	})
	return token, err
}

// Join uses an invitation. Somebody who has an account joins with its password; anybody else gets one.
func (s *Service) Join(ctx context.Context, token, device, name, email, password string) (session string, err error) {
	var p tracker.Problems
	checkPerson(&p, name, email, password)
	if err := p.Err(); err != nil {
		return "", err
	}
	passwordHash := s.hash.make(password)
	return s.enter(ctx, token, device, InviteLink, "This link is no invitation.", func(g Gate, link Link, now time.Time) (tracker.YardID, tracker.Person, error) {
		person, err := s.joiner(g, link.Yard, name, email, password, passwordHash, now)
		if err != nil {
			return "", person, err
		}
		return link.Yard, person, cmp.Or(g.AddMember(link.Yard, person.ID, link.Role, now), g.SetLinkUsed(link.ID, now))
	})
}

// joiner finds or makes who joins. Somebody who is in the yard keeps the role they have there: joining again would let
// the only owner become a carer for good.
func (s *Service) joiner(g Gate, yard tracker.YardID, name, email, password, passwordHash string, now time.Time) (tracker.Person, error) {
	account, err := g.Account(signInName(email))
	if tracker.KindOf(err) == tracker.NotFound {
		person := tracker.Person{ID: tracker.PersonID(NewID()), Name: strings.TrimSpace(name), Email: signInName(email)}
		return person, g.AddPerson(person, passwordHash, now)
	}
	if err == nil && !s.hash.matches(password, account.PasswordHash) {
		err = tracker.RefuseField("password", "This address has an account already: give its password to join with it.")
	}
	if err == nil && slices.ContainsFunc(account.Yards, func(in Membership) bool { return in.Yard == yard }) {
		err = tracker.Refuse(tracker.Invalid, "You are in this yard already. The link still works for somebody else.")
	}
	return account.Person, err
}

// SignIn checks a name and password and starts a session in the person's yard. The answer and the time
// it takes are the same for an unknown name; failures make the next try wait longer.
func (s *Service) SignIn(ctx context.Context, email, password, device string) (session string, err error) {
	now := s.now()
	var account Account
	var failures int
	err = s.store.AcrossRead(ctx, func(g Gate) error {
		var notBefore time.Time
		var err error
		failures, notBefore, err = g.Delay(signInName(email))
		if err == nil && now.Before(notBefore) {
			err = tracker.Refuse(tracker.Unavailable, "Too many tries with this name. Wait a few minutes, then try again.")
		}
		if err != nil {
			return err
		}
		account, err = g.Account(signInName(email))
		if tracker.KindOf(err) == tracker.NotFound {
			err = nil
		}
		return err
	})
	if err != nil {
		return "", err
	}
	if !s.hash.matches(password, account.PasswordHash) || len(account.Yards) == 0 {
		return "", s.failSignIn(ctx, email, failures+1, now)
	}
	err = s.store.Across(ctx, func(g Gate) error {
		if err := g.SetDelay(signInName(email), 0, time.Time{}); err != nil {
			return err
		}
		session, err = startSession(g, account.Yards[0].Yard, account.Person, device, now)
		return err
	})
	return session, err
}

func (s *Service) failSignIn(ctx context.Context, email string, failures int, now time.Time) error {
	var wait time.Duration
	if failures > freeFailures {
		wait = min(longestDelay, time.Second<<min(failures-freeFailures, 20))
	}
	err := s.store.Across(ctx, func(g Gate) error { return g.SetDelay(signInName(email), failures, now.Add(wait)) })
	if err != nil {
		return err
	}
	return tracker.Refuse(tracker.Invalid, "The address and the password do not belong together. Check both and try again.")
}

// SignInByLink uses a sign-in link, which the demonstration prints. It may be used again until it expires.
func (s *Service) SignInByLink(ctx context.Context, token, device string) (session string, err error) {
	return s.enter(ctx, token, device, SignInLink, "This link does not sign anybody in.", func(g Gate, link Link, now time.Time) (tracker.YardID, tracker.Person, error) {
		account, err := g.AccountByID(link.Person)
		return link.Yard, account.Person, cmp.Or(err, g.SetLinkOpened(link.ID, now))
	})
}

func startSession(g Gate, yard tracker.YardID, person tracker.Person, device string, now time.Time) (string, error) {
	token, hash := newToken()
	if len(device) > 250 { // a browser's name stands last
		device = strings.ToValidUTF8(device[:250], "")
	}
	err := g.AddSession(Session{ID: NewID(), Yard: yard, Person: person, Device: device, Created: now, Seen: now}, hash)
	return token, err
}

// Actor finds who holds a session. It notes at most once an hour that the session was seen.
func (s *Service) Actor(ctx context.Context, token string) (Actor, error) {
	now := s.now()
	var session Session
	err := s.store.AcrossRead(ctx, func(g Gate) (err error) {
		session, err = g.SessionByToken(HashToken(token))
		return err
	})
	if err == nil && now.Sub(session.Seen) > sessionIdle {
		err = tracker.Refuse(tracker.NotFound, "You have been signed out because this device was not used for 90 days. Sign in again.")
	}
	if err == nil && now.Sub(session.Seen) > time.Hour {
		err = s.store.Across(ctx, func(g Gate) error { return g.SetSeen(session.ID, now) })
	}
	return Actor{Yard: session.Yard, Person: session.Person, Role: session.Role, Device: session.Device, Session: session.ID}, err
}

// SignOut ends the session.
func (s *Service) SignOut(ctx context.Context, token string) error {
	return s.store.Across(ctx, func(g Gate) error { return g.EndSessionByToken(HashToken(token), s.now()) })
}

// PeopleView is what the people page shows.
type PeopleView struct {
	Moment
	Members  []tracker.Member
	Links    []Link
	Sessions []Session // the actor's own
}

// People lists the yard's members, its live invitations and the actor's own sessions.
func (s *Service) People(ctx context.Context, a Actor) (PeopleView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (out PeopleView, err error) {
		var errs [4]error
		out.Moment, errs[0] = momentOf(tx, now)
		out.Members, errs[1] = tx.Members()
		out.Sessions, errs[2] = tx.Sessions(a.Person.ID)
		if a.Role == tracker.Owner {
			out.Links, errs[3] = tx.Links(now)
			out.Links = slices.DeleteFunc(out.Links, func(l Link) bool { return l.Kind != InviteLink })
		}
		return out, cmp.Or(errs[:]...)
	})
}

// StopLink ends one of the yard's links.
func (s *Service) StopLink(ctx context.Context, a Actor, id string) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		if err := tx.StopLink(id, now); err != nil {
			return err
		}
		return note(tx, a, now, "link stopped", id, "")
	})
}

// EndSession signs out one of the actor's own devices.
func (s *Service) EndSession(ctx context.Context, a Actor, id string) error {
	now := s.now()
	return s.store.Write(ctx, a.Yard, func(tx Tx) error {
		sessions, err := tx.Sessions(a.Person.ID)
		if err != nil {
			return err
		}
		for _, session := range sessions {
			if session.ID == id {
				return tx.EndSession(id, now)
			}
		}
		return tracker.Refuse(tracker.NotFound, "That device is not signed in any more.")
	})
}

// Leave takes a person out of the yard. Their records stay under their name, and their sessions end.
func (s *Service) Leave(ctx context.Context, a Actor, person tracker.PersonID) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		if person == a.Person.ID {
			return tracker.Refuse(tracker.Invalid, "You cannot take yourself out of the yard. Another owner can.")
		}
		if err := stillOwner(tx, a); err != nil {
			return err
		}
		if err := tx.SetLeft(person, now); err != nil {
			return err
		}
		sessions, err := tx.Sessions(person)
		if err != nil {
			return err
		}
		for _, session := range sessions {
			if err := tx.EndSession(session.ID, now); err != nil {
				return err
			}
		}
		return note(tx, a, now, "person left", string(person), "")
	})
}

// stillOwner refuses an owner whom another has taken out since they asked: of two who take each other out one must stay.
func stillOwner(tx Tx, a Actor) error {
	members, err := tx.Members()
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(members, func(m tracker.Member) bool {
		return m.ID == a.Person.ID && m.Role == tracker.Owner && m.Left.IsZero()
	}) {
		return tracker.Refuse(tracker.Forbidden, "You are no owner of this yard any more. Ask an owner.")
	}
	return nil
}
