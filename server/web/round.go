package web

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"

	"leground/tracker"
	"leground/tracker/care"
)

// RoundPage is the leg round: every leg line and site card of the visit, each its own form.
type RoundPage struct {
	Base
	Round  tracker.Round
	Done   int
	Of     int
	Order  tracker.WalkingOrder
	Slots  string // the rounds of the day as minutes after midnight: "420 1110"
	People []tracker.Member
	Horses []RoundHorse
	First  *FirstCard // the first that is not recorded; nil: all are
	Saved  *SavedLine
	Blind  string // sites that can be measured again, blind
}

// FirstCard is where the round starts, or goes on.
type FirstCard struct{ Anchor, Words string }

// Ring is whom to ring. Number is empty until the yard has one.
type Ring struct{ Name, Number string }

// SavedLine says what has just been saved, with a way back.
type SavedLine struct {
	Words string
	Of    tracker.RecordID // what Undo takes back
	Next  string
}

// RoundHorse is one horse's part of the round.
type RoundHorse struct {
	care.RoundHorse
	Done, Of int
	Asks     []AskPart // of plans for the whole horse
	Legs     []RoundLeg
}

// Milder gives the most urgent caution below ring now; nil when there is none. While hands are busy a card
// shows one line of it.
func (h RoundHorse) Milder() *tracker.Caution {
	for i, c := range h.Cautions {
		if c.Level != tracker.RingNow {
			return &h.Cautions[i]
		}
	}
	return nil
}

// RoundLeg is one leg's line, its cards, and the forms to add a site and to start a soak.
type RoundLeg struct {
	Line  LegForm
	Cards []SiteForm
	New   SiteAdder
	Soak  *tracker.Event
}

// LookForm is what the forms of a look have in common, of a leg, a site or a whole horse.
type LookForm struct {
	sent
	Record   tracker.RecordID
	Base     Base
	Round    tracker.Round
	Horse    tracker.Horse
	Place    string // "3 of 21"
	Anchor   string
	Next     string
	People   []tracker.Member // who may have looked
	Corrects tracker.RecordID
	Back     string
}

// LegForm is a leg line: a form, or what was recorded.
type LegForm struct {
	LookForm
	Leg care.RoundLeg
}

// SiteForm is a site card: a form, or what was recorded.
type SiteForm struct {
	LookForm
	Card     care.Card
	NextName string
	Photo    tracker.PhotoID // id of a photo taken now
}

// SiteAdder is the form for a newly found site.
type SiteAdder struct {
	sent
	Base   Base
	Horse  tracker.Horse
	Leg    tracker.Leg
	Record tracker.RecordID
	Photo  tracker.PhotoID // id of a photo taken now
	Next   string
	Back   string
}

// CardPage is one card or line alone: sent back with what was wrong, or opened to be corrected.
type CardPage struct {
	Base
	Site  *SiteForm
	Line  *LegForm
	New   *SiteAdder
	Event *EventForm
}

func minutesOf(slots []tracker.Slot) string {
	var minutes []string
	for _, s := range slots {
		minutes = append(minutes, strconv.Itoa(int(s.At)))
	}
	return strings.Join(minutes, " ")
}

// roundPage makes the page of the round that is on now.
func (h *Handler) roundPage(r *http.Request) (RoundPage, error) {
	view, err := h.care.Round(r.Context(), actorOf(r))
	if err != nil {
		return RoundPage{}, err
	}
	page := RoundPage{Base: h.base(r, "Leg round").inYard(view.Moment, "round").barn(), Round: view.Round}
	page.Bare = true
	page.Done, page.Of = view.Recorded()
	page.Order, page.People, page.Slots = view.Yard.Order, view.People, minutesOf(view.Yard.Slots)
	page.Blind = blindWords(view.Blind)
	for _, horse := range view.Horses {
		page.Horses = append(page.Horses, page.horse(view, horse))
	}
	page.link()
	return page, nil
}

func (h *Handler) round(w http.ResponseWriter, r *http.Request) error {
	page, err := h.roundPage(r)
	if err != nil {
		return err
	}
	if of := r.URL.Query().Get("saved"); tracker.ValidID(of) {
		page.Saved = &SavedLine{Words: page.savedWords(tracker.RecordID(of)), Of: tracker.RecordID(of)}
	}
	return h.draw(w, http.StatusOK, "round", page)
}

func (p *RoundPage) horse(view care.RoundView, in care.RoundHorse) RoundHorse {
	out := RoundHorse{RoundHorse: in, Asks: askParts(in.Asks, view.Yard.Mark)}
	out.Done, out.Of = in.Recorded()
	look := func(tag string) LookForm {
		return LookForm{Record: care.NewRecord(), Base: p.Base, Round: p.Round, Horse: in.Horse, Anchor: anchor(in.Horse, tag), People: view.People}
	}
	for _, leg := range in.Legs {
		line := LegForm{LookForm: look(leg.Leg.String()), Leg: leg}
		part := RoundLeg{Line: line, Soak: leg.Soak}
		part.New = SiteAdder{Base: p.Base, Horse: in.Horse, Leg: leg.Leg, Record: care.NewRecord(), Photo: tracker.PhotoID(care.NewID()), Next: line.Anchor}
		for _, card := range leg.Cards {
			part.Cards = append(part.Cards, SiteForm{LookForm: look(card.Site.Tag()), Card: card, Photo: tracker.PhotoID(care.NewID())})
		}
		out.Legs = append(out.Legs, part)
	}
	return out
}

// anchor names a card on the page: lasting, so that a link to it still works after a save.
func anchor(horse tracker.Horse, tag string) string {
	return "c-" + string(horse.ID)[24:] + "-" + strings.ReplaceAll(tag, " ", "-")
}

// link gives each form the place that comes after it, in walking order, passing over what is recorded.
func (p *RoundPage) link() {
	next, nextName := "done", "the end of the round"
	at := p.Of
	place := func() (words string) {
		words = fmt.Sprintf("%d of %d", at, p.Of)
		at--
		return words
	}
	for i := len(p.Horses) - 1; i >= 0; i-- {
		horse := &p.Horses[i]
		for j := len(horse.Legs) - 1; j >= 0; j-- {
			leg := &horse.Legs[j]
			for k := len(leg.Cards) - 1; k >= 0; k-- {
				card := &leg.Cards[k]
				card.Next, card.NextName, card.Place = next, nextName, place()
				if card.Card.Here == nil {
					next, nextName = card.Anchor, horse.Horse.Name+" "+card.Card.Site.Tag()
				}
			}
			leg.Line.Next, leg.Line.Place = next, place()
			if leg.Line.Leg.Here == nil {
				next, nextName = leg.Line.Anchor, horse.Horse.Name+" "+leg.Line.Leg.Leg.String()
			}
		}
	}
	if next != "done" {
		words := "Start: "
		if p.Done > 0 {
			words = "Carry on: "
		}
		p.First = &FirstCard{next, words + nextName}
	}
}

// savedWords names what was just saved, when it is on the page.
func (p *RoundPage) savedWords(of tracker.RecordID) string {
	for _, horse := range p.Horses {
		for _, leg := range horse.Legs {
			if here := leg.Line.Leg.Here; here != nil && here.ID == of {
				return horse.Horse.Name + " " + leg.Line.Leg.Leg.String() + " is saved in the yard."
			}
			for _, card := range leg.Cards {
				if here := card.Card.Here; here != nil && here.ID == of {
					return horse.Horse.Name + " " + card.Card.Site.Tag() + " is saved in the yard."
				}
			}
		}
	}
	return "Saved in the yard."
}

// undo takes back a check.
func (h *Handler) undo(w http.ResponseWriter, r *http.Request, f *form) error {
	record, of := f.record(), tracker.RecordID(f.text("of"))
	if !tracker.ValidID(string(record)) || !tracker.ValidID(string(of)) {
		return care.ErrLostRecord
	}
	return h.done(w, r, f, func() error { return h.care.Retract(r.Context(), actorOf(r), record, of) }, backOr(f, "/round"), refused)
}

func backOr(f *form, to string) string {
	if back := f.text("back"); back != "" {
		to = localPath(back)
	}
	if next := f.text("next"); next != "" {
		to += "#" + next
	}
	return to
}

// addSite takes in a newly found site, with its first look when the form has a size or a photo. The two share
// the form's record id.
func (h *Handler) addSite(w http.ResponseWriter, r *http.Request, f *form) error {
	in := care.NewSite{
		Record: f.record(), Horse: tracker.HorseID(f.text("horse")), Leg: parsed(f, "leg", tracker.ParseLeg),
		Region: parsed(f, "region", tracker.ParseRegion), Kind: parsed(f, "kind", tracker.ParseSiteKind), Onset: f.date("onset", "The day it happened"), Hash: f.hash(),
	}
	in.Aspect = readAspect(f, in.Leg)
	var look *care.Entry
	if comes := wantsJSON(r) && f.text("photo_id") != ""; comes || hasPhoto(r) || f.text("length")+f.text("width") != "" { // a phone's photo comes after its form
		entry, err := h.entry(r, f, siteEntry)
		if err != nil {
			return err
		}
		look = &entry
	}
	return h.done(w, r, f, func() error { return h.found(r, in, look) }, backOr(f, "/round"), func(w http.ResponseWriter, r *http.Request, state sent) error {
		return h.siteAgain(w, r, state, in)
	})
}

// found keeps a new site and then its first look; nil: it has none.
func (h *Handler) found(r *http.Request, in care.NewSite, look *care.Entry) error {
	site, err := h.care.AddSite(r.Context(), actorOf(r), in)
	if err == nil && look != nil {
		look.Check.Site = site.ID
		_, err = h.care.Record(r.Context(), actorOf(r), *look)
	}
	return err
}

// readAspect reads a face; "back" means palmar on a fore leg and plantar on a hind leg.
func readAspect(f *form, leg tracker.Leg) tracker.Aspect {
	if f.text("aspect") == "back" {
		return leg.Back()
	}
	return parsed(f, "aspect", tracker.ParseAspect)
}
