package web

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
)

// HorsesPage lists the horses and takes one in.
type HorsesPage struct {
	Base
	Horses []tracker.Horse
	Form   HorseForm
}

// HorseForm is the form with the facts about a horse.
type HorseForm struct {
	sent
	ID     tracker.HorseID
	Horse  tracker.Horse
	Places []Step
	Foods  []Step
}

func horseForm(horse tracker.Horse, state sent) HorseForm {
	f := HorseForm{sent: state, ID: horse.ID, Horse: horse}
	for _, p := range []tracker.HorsePlace{tracker.Here, tracker.Away, tracker.AtClinic, tracker.Gone} {
		f.Places = append(f.Places, Step{p.String(), tracker.PlaceName(p), state.Is("place", p.String(), horse.Place == p)})
	}
	for _, food := range []tracker.FoodChain{"", tracker.NotForFood, tracker.MayBeFood} {
		f.Foods = append(f.Foods, Step{string(food), tracker.FoodName(food), state.Is("food", string(food), horse.Food == food)})
	}
	return f
}

func (h *Handler) horses(w http.ResponseWriter, r *http.Request, state sent) error {
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	horses, err := h.care.Horses(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	taken := tracker.Horse{ID: tracker.HorseID(state.Value("id", care.NewID()))}
	page := HorsesPage{h.base(r, "Horses").inYard(yard, "horses").wrong(state.why), horses, horseForm(taken, state)}
	return h.draw(w, page.status(), "horses", page)
}

func readHorse(f *form) tracker.Horse {
	horse := tracker.Horse{
		ID: tracker.HorseID(f.text("id")), Name: f.text("name"), Sort: f.text("sort"), Handling: f.text("handling"), OrderReason: f.text("order_reason"),
		IsolatedUntil: f.date("isolated_until", "The end of isolation"), Arrived: f.date("arrived", "The day it came"),
		Tetanus: tracker.Tetanus{Last: f.date("tetanus", "The last tetanus dose")}, Place: parsed(f, "place", tracker.ParseHorsePlace), Food: parsed(f, "food", tracker.ParseFoodChain),
	}
	if text := f.text("order"); text != "" {
		order, err := tracker.ParseWalkingOrder(text)
		if err != nil {
			f.problems.Add("order", "The walking order must name LF, RF, RH and LH once each, like LF RF RH LH.")
		}
		horse.Order = order
	}
	return horse
}

func (h *Handler) addHorse(w http.ResponseWriter, r *http.Request, f *form) error {
	horse := readHorse(f)
	f.also(care.HorseProblems(horse))
	return h.done(w, r, f, func() error { return h.care.AddHorse(r.Context(), actorOf(r), horse) }, "/horse/"+string(horse.ID), h.horses)
}

// HorsePage is one horse: its legs with their sites, each site's history as a chart and a table.
type HorsePage struct {
	Base
	View  care.HorseView
	Form  HorseForm
	Legs  []HorseLeg
	Event EventForm
	Older tracker.Date // the end of the span before; 0: none
	Acted []ActedCaution
	Whole []tracker.Check // looks at the whole horse, newest first
	// Picture says how the open sites go together; Said is what the vet asked for and is in force.
	Picture []string
	Said    []tracker.Proposal
}

// ActedCaution is a caution of the last weeks that nobody needs to act on any more.
type ActedCaution struct {
	ID    tracker.CautionID
	Day   tracker.Date
	Words string
}

// HorseLeg is one leg with its sites and its leg lines.
type HorseLeg struct {
	Leg      tracker.Leg
	Picture  []string        // how its open sites go together, when there are several
	Drawings []template.HTML // its four faces
	Sites    []HorseSite
	Lines    []tracker.Check
	New      SiteAdder
}

// HorseSite is one site's history.
type HorseSite struct {
	care.SiteHistory
	Base     Base
	Horse    tracker.Horse
	ID       string // prefix of ids on the page
	Headline string
	Judged   Judged
	Chart    ChartPart
	Percent  string // of the first size
	People   map[tracker.PersonID]string
	Others   []tracker.Site // sites of the same leg that it could join
	Event    EventForm
	Rows     []HistoryRow
}

// HistoryRow is one row of a site's table.
type HistoryRow struct {
	tracker.Check
	Old   bool // a later version stands for it
	Area  string
	Score string
	Photo *tracker.Photo
}

func (h *Handler) horse(w http.ResponseWriter, r *http.Request, state sent) error {
	to, err := dateParam(r, "to")
	if err != nil {
		return err
	}
	view, err := h.care.Horse(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")), to)
	if err != nil {
		return err
	}
	page := h.horsePage(r, view, state)
	return h.draw(w, page.status(), "horse", page)
}

func dateParam(r *http.Request, name string) (tracker.Date, error) {
	text := r.URL.Query().Get(name)
	if text == "" {
		return 0, nil
	}
	day, err := tracker.ParseDate(text)
	if err != nil {
		return 0, tracker.Refuse(tracker.Invalid, "The day in the address must be like 2026-05-14.")
	}
	return day, nil
}

func (h *Handler) horsePage(r *http.Request, view care.HorseView, state sent) HorsePage {
	page := HorsePage{
		Base: h.base(r, view.Horse.Name).inYard(view.Moment, "horses").wrong(state.why), View: view, Form: horseForm(view.Horse, state),
		Event: EventForm{Prefix: "e", Horse: view.Horse.ID, Back: "/horse/" + string(view.Horse.ID)},
	}
	if view.Earlier {
		page.Older = view.From - 1
	}
	for _, c := range view.Cautions {
		if c.Closed() {
			words := tracker.LevelName(c.Level) + ". " + c.Words()
			page.Acted = append(page.Acted, ActedCaution{c.ID, tracker.DateOf(c.Raised.In(view.Zone)), words})
		}
	}
	page.Picture, page.Said = pictureLines(view.Picture, view.Sites), inForce(view.Said)
	panels := frameOf(view).charts(view.Sites)
	for _, look := range view.Lines {
		if look.Subject == tracker.OfHorse {
			page.Whole = append(page.Whole, look)
		}
	}
	for _, leg := range view.Horse.OrderIn(view.Yard) {
		part := HorseLeg{Leg: leg, Picture: legPicture(view, leg), New: SiteAdder{Base: page.Base, Horse: view.Horse, Leg: leg, Record: care.NewRecord(), Photo: tracker.PhotoID(care.NewID()), Back: "/horse/" + string(view.Horse.ID)}}
		for i, site := range view.Sites {
			if site.Site.Leg == leg {
				part.Sites = append(part.Sites, horseSite(page, site, panels[i]))
			}
		}
		for _, line := range view.Lines {
			if line.Leg == leg {
				part.Lines = append(part.Lines, line)
			}
		}
		part.Drawings = faces(leg, part.Sites)
		page.Legs = append(page.Legs, part)
	}
	return page
}

func horseSite(page HorsePage, in care.SiteHistory, chart ChartPart) HorseSite {
	out := HorseSite{
		SiteHistory: in, Base: page.Base, Horse: page.View.Horse, ID: strings.ReplaceAll(in.Site.Tag(), " ", "-"),
		Chart: chart, People: page.View.People, Percent: percentOfFirst(in, page.Base),
	}
	out.Headline, out.Judged = headline(in, page.View.Today), judgedWords(in.Judgement, page.Base)
	out.Event = EventForm{Prefix: out.ID, Site: in.Site.ID, Next: "site-" + out.ID, Back: "/horse/" + string(page.View.Horse.ID)}
	for _, other := range page.View.Sites {
		if other.Site.Leg == in.Site.Leg && other.Site.ID != in.Site.ID && other.Site.Open() {
			out.Others = append(out.Others, other.Site)
		}
	}
	newest := map[tracker.RecordID]int{}
	for _, c := range in.All {
		newest[c.Root] = max(newest[c.Root], c.Version)
	}
	for _, c := range in.All {
		row := HistoryRow{Check: c, Old: c.Version < newest[c.Root], Area: areaWords(c, in.Settings, page.Mark), Score: scoreWords(c)}
		if photo, ok := in.Photos[c.ID]; ok {
			row.Photo = &photo
		}
		out.Rows = append(out.Rows, row)
	}
	return out
}

// headline says in words what the newest judgement of a site is.
func headline(in care.SiteHistory, today tracker.Date) string {
	switch {
	case in.Site.Joined != "":
		return "joined another site"
	case in.Site.ClosedOn != 0:
		return "closed over on " + tracker.DayName(in.Site.ClosedOn)
	case in.Judgement == nil:
		return "not judged yet"
	}
	if old := healing.AsOf(in.Judgement.Day, today); old != "" {
		return in.Judgement.Label + ", " + old
	}
	return in.Judgement.Label
}

// percentOfFirst says how large a wound is against its first size.
func percentOfFirst(in care.SiteHistory, b Base) string {
	if in.Site.Kind != tracker.Wound || in.First == nil || in.Judgement == nil || in.First.Size.LengthMM == 0 {
		return ""
	}
	first := areaOf(in.First.Size)
	share := 100 * in.Judgement.AreaCM2 / first
	return fmt.Sprintf("%s%% of its first size, which was %s on %s", tracker.FormatFloat(share, 0, b.Mark), areaText(first, b.Mark), tracker.DayName(in.First.Day))
}

func (h *Handler) changeHorse(w http.ResponseWriter, r *http.Request, f *form) error {
	horse := readHorse(f)
	horse.ID = tracker.HorseID(chi.URLParam(r, "horse"))
	f.also(care.HorseProblems(horse))
	return h.done(w, r, f, func() error { return h.care.ChangeHorse(r.Context(), actorOf(r), horse) }, "/horse/"+string(horse.ID), h.horse)
}

// changeSite makes a site the other kind, joins it to another or opens it again.
func (h *Handler) changeSite(w http.ResponseWriter, r *http.Request, f *form) error {
	record, id := f.record(), tracker.SiteID(f.text("site"))
	if !tracker.ValidID(string(record)) {
		return care.ErrLostRecord
	}
	actor := actorOf(r)
	var err error
	switch f.text("do") {
	case "kind":
		err = h.care.ChangeKind(r.Context(), actor, record, id, parsed(f, "kind", tracker.ParseSiteKind))
	case "join":
		err = h.care.JoinSites(r.Context(), actor, record, id, tracker.SiteID(f.text("into")))
	case "reopen":
		err = h.care.Reopen(r.Context(), actor, record, id)
	default:
		err = tracker.Refuse(tracker.Invalid, "Choose what has changed about the site.")
	}
	return then(w, r, err, backOr(f, "/horses"))
}

func sortedNames(people map[tracker.PersonID]string) []tracker.Member {
	out := make([]tracker.Member, 0, len(people))
	for id, name := range people {
		out = append(out, tracker.Member{Person: tracker.Person{ID: id, Name: name}})
	}
	slices.SortFunc(out, func(a, b tracker.Member) int { return strings.Compare(a.Name+string(a.ID), b.Name+string(b.ID)) })
	return out
}
