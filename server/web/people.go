package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// PeoplePage lists who is in the yard, invitations and one's own signed-in devices.
type PeoplePage struct {
	Base
	View    care.PeopleView
	Session string   // the device that asks
	Invite  sendable // a link that has just been made, shown once
}

// Others lists whom the owner who asks can take out of the yard; nobody for a carer.
func (p PeoplePage) Others() (others []tracker.Member) {
	for _, m := range p.View.Members {
		if p.Role == tracker.Owner && m.Left.IsZero() && m.ID != p.Person.ID {
			others = append(others, m)
		}
	}
	return others
}

func (h *Handler) people(w http.ResponseWriter, r *http.Request) error {
	return h.peoplePage(w, r, "")
}

func (h *Handler) peoplePage(w http.ResponseWriter, r *http.Request, invite sendable) error {
	view, err := h.care.People(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := PeoplePage{Base: h.base(r, "People").inYard(view.Moment, "people"), View: view, Session: actorOf(r).Session, Invite: invite}
	return h.draw(w, http.StatusOK, "people", page)
}

// invite makes an invitation and shows its link, once.
func (h *Handler) invite(w http.ResponseWriter, r *http.Request, f *form) error {
	token, err := h.care.Invite(r.Context(), actorOf(r), parsed(f, "role", tracker.ParseRole), f.text("note"))
	if err != nil {
		return err
	}
	return h.peoplePage(w, r, h.toSend(r, "/link/"+token))
}

func (h *Handler) stopLink(w http.ResponseWriter, r *http.Request, f *form) error {
	return then(w, r, h.care.StopLink(r.Context(), actorOf(r), chi.URLParam(r, "link")), backOr(f, "/people"))
}

func (h *Handler) endSession(w http.ResponseWriter, r *http.Request) error {
	return then(w, r, h.care.EndSession(r.Context(), actorOf(r), chi.URLParam(r, "session")), "/people")
}

func (h *Handler) leaveYard(w http.ResponseWriter, r *http.Request) error {
	return then(w, r, h.care.Leave(r.Context(), actorOf(r), tracker.PersonID(chi.URLParam(r, "person"))), "/people")
}

// SignInPage asks for a name and password.
type SignInPage struct {
	Base
	sent
	To string
}

func (h *Handler) signInPage(w http.ResponseWriter, r *http.Request) error {
	return h.draw(w, http.StatusOK, "signin", SignInPage{Base: h.base(r, "Sign in"), To: localPath(r.URL.Query().Get("to"))})
}

func (h *Handler) signIn(w http.ResponseWriter, r *http.Request) error {
	if err := h.slowed(r); err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	session, err := h.care.SignIn(r.Context(), f.text("email"), f.values.Get("password"), r.UserAgent())
	if kind := tracker.KindOf(err); kind == tracker.Invalid || kind == tracker.Unavailable {
		f.values.Del("password")
		page := SignInPage{Base: h.base(r, "Sign in").wrong(err), sent: f.back(err), To: localPath(f.text("to"))}
		return h.draw(w, statusOf(err), "signin", page)
	}
	if err != nil {
		return err
	}
	h.setSession(w, session)
	http.Redirect(w, r, localPath(f.text("to")), http.StatusSeeOther)
	return nil
}

func (h *Handler) signOut(w http.ResponseWriter, r *http.Request) error {
	if cookie, err := r.Cookie(sessionCookie); err == nil {
		if err := h.care.SignOut(r.Context(), cookie.Value); err != nil {
			return err
		}
	}
	h.clearSession(w)
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// LinkPage is what a link opens: a page with one form. Opening it changes nothing.
type LinkPage struct {
	Base
	sent
	Kind  care.LinkKind
	Token string
	Zones []string
}

// ZoneNow is the zone that the form starts with: none, since a wrong one would be overlooked.
func (p LinkPage) ZoneNow() string { return "" }

// OrderNow is the walking order that the form starts with.
func (p LinkPage) OrderNow() string { return tracker.WalkingOrder(tracker.Legs()).String() }

// SidesNow is the choice of words that the form starts with.
func (p LinkPage) SidesNow() string { return "left" }

// MarkNow is the decimal mark that the form starts with.
func (p LinkPage) MarkNow() string { return "point" }

func (h *Handler) linkPage(w http.ResponseWriter, r *http.Request) error {
	if err := h.slowed(r); err != nil {
		return err
	}
	token := chi.URLParam(r, "token")
	link, err := h.care.LinkFor(r.Context(), token)
	if err != nil {
		return err
	}
	return h.draw(w, http.StatusOK, "link", h.linkFor(r, link.Kind, token))
}

func (h *Handler) linkFor(r *http.Request, kind care.LinkKind, token string) LinkPage {
	title := map[care.LinkKind]string{care.SetUpLink: "Open your yard", care.InviteLink: "Join the yard", care.SignInLink: "Sign in"}[kind]
	page := LinkPage{Base: h.base(r, title), Kind: kind, Token: token, Zones: commonZones}
	page.Bare = true
	return page
}

// commonZones are offered while a zone is typed; any IANA name is taken.
var commonZones = []string{"Europe/London", "Europe/Dublin", "Europe/Paris", "Europe/Berlin", "Europe/Amsterdam", "Europe/Brussels", "Europe/Warsaw",
	"America/New_York", "America/Chicago", "America/Denver", "America/Los_Angeles", "Australia/Sydney", "Pacific/Auckland"}

// useLink acts on a link.
func (h *Handler) useLink(w http.ResponseWriter, r *http.Request) error {
	if err := h.slowed(r); err != nil {
		return err
	}
	f, err := readForm(r)
	if err != nil {
		return err
	}
	token := chi.URLParam(r, "token")
	link, err := h.care.LinkFor(r.Context(), token)
	if err != nil {
		return err
	}
	var session string
	switch link.Kind {
	case care.SetUpLink:
		session, err = h.openYard(r, f, token)
	case care.InviteLink:
		session, err = h.care.Join(r.Context(), token, r.UserAgent(), f.text("name"), f.text("email"), f.values.Get("password"))
	case care.SignInLink:
		session, err = h.care.SignInByLink(r.Context(), token, r.UserAgent())
	default:
		return errNoPage
	}
	if tracker.KindOf(err) == tracker.Invalid {
		f.values.Del("password")
		page := h.linkFor(r, link.Kind, token)
		page.Base, page.sent = page.Base.wrong(err), f.back(err)
		return h.draw(w, page.status(), "link", page)
	}
	if err != nil {
		return err
	}
	h.setSession(w, session)
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

func (h *Handler) openYard(r *http.Request, f *form, token string) (string, error) {
	in := care.SetUp{
		YardName: f.text("yard"), Zone: f.text("zone"), RingName: f.text("ring_name"), RingNumber: f.text("ring_number"),
		PersonName: f.text("name"), Email: f.text("email"), Password: f.values.Get("password"),
	}
	in.Order, in.LegWords, in.Mark = readWays(f)
	f.also(in.Problems())
	if err := f.problems.Err(); err != nil {
		return "", err
	}
	return h.care.OpenYard(r.Context(), token, r.UserAgent(), in)
}

// readWays reads the yard's walking order, words for sides and decimal mark.
func readWays(f *form) (tracker.WalkingOrder, tracker.LegWords, tracker.DecimalMark) {
	order, err := tracker.ParseWalkingOrder(f.text("order"))
	if err != nil {
		f.problems.Add("order", "The walking order must name LF, RF, RH and LH once each, like LF RF RH LH.")
	}
	words, mark := tracker.LeftRight, tracker.Point
	if f.text("leg_words") == "near" {
		words = tracker.NearOff
	}
	if f.text("mark") == "comma" {
		mark = tracker.Comma
	}
	return order, words, mark
}
