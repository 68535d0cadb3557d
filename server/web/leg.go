package web

import (
	"html/template"
	"net/http"
	"net/url"
	"strings"

	"github.com/go-chi/chi/v5"

	"leground/server/web/draw"
	"leground/tracker"
	"leground/tracker/care"
)

// LegPage is one leg as a drawing: on a phone one face as a ladder of its parts, where there is room all four
// in their true shape. A part that is chosen opens the form for something new there.
type LegPage struct {
	Base
	Horse tracker.Horse
	Leg   tracker.Leg
	View  tracker.Aspect
	Faces []Face
	Rungs []Rung
	New   *SiteAdder
}

// Face is one of the four sides from which a leg is looked at.
type Face struct {
	ID      string // of its words
	Address string
	Words   string
	Chosen  bool
	Drawing template.HTML
}

// Rung is one part of a leg on the face that is shown.
type Rung struct {
	Address string
	Words   string
	Chosen  bool
	Slice   template.HTML
	Sites   []tracker.Site
}

// leg shows a leg as a drawing. The address may hold view, the face, and region, the part that was chosen.
func (h *Handler) leg(w http.ResponseWriter, r *http.Request) error {
	leg, err := tracker.ParseLeg(chi.URLParam(r, "leg"))
	if err != nil {
		return tracker.Refuse(tracker.NotFound, "A horse has the legs LF, RF, RH and LH.")
	}
	view, err := h.care.Outline(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")))
	if err != nil {
		return err
	}
	page := LegPage{Base: h.base(r, view.Horse.Name).inYard(view.Moment, "horses").barn(), Horse: view.Horse, Leg: leg}
	page.Bare = true
	page.View = faceOf(leg, r.URL.Query().Get("view"))
	region, _ := tracker.ParseRegion(r.URL.Query().Get("region")) // an unknown part is none
	page.draw(placesOn(view.Sites, leg), region)
	for _, band := range draw.Bands(leg, page.View) {
		page.Rungs = append(page.Rungs, page.rung(view.Sites, band, region))
		if band == region {
			page.New = &SiteAdder{Base: page.Base, Horse: view.Horse, Leg: leg, Record: care.NewRecord(), Photo: tracker.PhotoID(care.NewID()), Back: "/horse/" + string(view.Horse.ID),
				sent: sent{Values: url.Values{"region": {region.String()}, "aspect": {faceWord(page.View)}}}}
		}
	}
	return h.draw(w, http.StatusOK, "leg", page)
}

// faceWord names a face in an address and in the form for something new.
func faceWord(a tracker.Aspect) string {
	if a == tracker.Palmar || a == tracker.Plantar {
		return "back"
	}
	return a.String()
}

// faceOf reads the face that an address asks for; the back, where most sores are, when it asks for none.
func faceOf(leg tracker.Leg, word string) tracker.Aspect {
	for _, a := range draw.Views(leg) {
		if faceWord(a) == word {
			return a
		}
	}
	return leg.Back()
}

func (p *LegPage) address(face tracker.Aspect, region tracker.Region) string {
	to := "/horse/" + string(p.Horse.ID) + "/leg/" + p.Leg.String() + "?view=" + faceWord(face)
	if region != 0 {
		to += "&region=" + region.String() + "#new"
	}
	return to
}

// draw makes the four faces.
func (p *LegPage) draw(places []draw.Place, chosen tracker.Region) {
	for _, aspect := range draw.Views(p.Leg) {
		words := tracker.Capital(tracker.AspectName(aspect))
		id := "face-" + faceWord(aspect)
		v := draw.LegView{ID: id + "-drawn", LabelledBy: id, Leg: p.Leg, Aspect: aspect, Places: places,
			Link: func(region tracker.Region) (string, string) {
				return p.address(aspect, region), tracker.RegionName(p.Leg, region) + ", " + tracker.AspectName(aspect)
			}}
		if aspect == p.View {
			v.Selected = chosen
		}
		p.Faces = append(p.Faces, Face{id, p.address(aspect, 0), words, aspect == p.View, draw.Leg(v)})
	}
}

func (p *LegPage) rung(sites []tracker.Site, band, chosen tracker.Region) Rung {
	out := Rung{Address: p.address(p.View, band), Words: tracker.RegionName(p.Leg, band), Chosen: band == chosen,
		Slice: draw.Slice(draw.LegView{ID: "rung", Leg: p.Leg, Aspect: p.View, Places: placesOn(sites, p.Leg)}, band)}
	for _, s := range sites {
		on := s.Aspect == p.View || s.Aspect == tracker.AllRound || s.Aspect == tracker.Ground && p.View == p.Leg.Back()
		if s.Leg == p.Leg && on && draw.BandOf(p.Leg, p.View, s.Region) == band {
			out.Sites = append(out.Sites, s)
		}
	}
	return out
}

// placesOn are the sites of a leg as a drawing marks them.
func placesOn(sites []tracker.Site, leg tracker.Leg) []draw.Place {
	var out []draw.Place
	for _, s := range sites {
		if s.Leg == leg && s.Joined == "" {
			out = append(out, draw.Place{Region: s.Region, Aspect: s.Aspect, Tag: s.Tag(), Closed: !s.Open()})
		}
	}
	return out
}

// faces are the four sides of a leg, small, for the page of the horse.
func faces(leg tracker.Leg, sites []HorseSite) []template.HTML {
	var all []tracker.Site
	for _, s := range sites {
		all = append(all, s.Site)
	}
	var out []template.HTML
	for _, aspect := range draw.Views(leg) {
		id := strings.ToLower(leg.String()) + "-" + faceWord(aspect)
		out = append(out, draw.Leg(draw.LegView{ID: id, LabelledBy: leg.String() + "-drawn", Leg: leg, Aspect: aspect, Places: placesOn(all, leg)}))
	}
	return out
}
