package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// VetPage lists everything that needs a vet, worst first.
type VetPage struct {
	Base
	View   care.VetListView
	Needs  []VetNeed
	Horses []tracker.Horse // for their sheets
	More   bool            // there are more sites than charts
	Method string
}

// Promise says who will ring about a caution, and when.
func (p VetPage) Promise(c tracker.Caution) string { return promise(c, p.View.People, p.Base) }

// VetNeed is one of them in words.
type VetNeed struct {
	care.VetNeed
	ID       string
	Where    string
	Headline string
	Judged   Judged
	Together string // which sites get worse together
	Chart    *ChartPart
}

func (h *Handler) vetList(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.VetList(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	horses, err := h.care.Horses(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := VetPage{Base: h.base(r, "For the vet").inYard(view.Moment, "vet"), View: view}
	for _, horse := range horses {
		if horse.Place == tracker.Here {
			page.Horses = append(page.Horses, horse)
		}
	}
	var sites []care.SiteHistory
	for _, n := range view.Needs {
		if n.Site != nil {
			sites = append(sites, *n.Site)
		}
	}
	page.Method = methodLine(sites, view.Yard, true)
	frame := frame{yard: view.Yard, zone: view.Zone, from: view.From, to: view.To, today: view.To, signs: true}
	frame.begin(sites)
	charts := frame.charts(sites)
	for _, n := range view.Needs {
		need := VetNeed{VetNeed: n, ID: "n" + string(rune('a'+len(page.Needs)%26)) + string(n.Horse.ID)[24:], Where: "the whole horse"}
		if n.Leg != 0 {
			need.Where = tracker.LegName(n.Leg, view.Yard.LegWords)
		}
		if n.Site != nil {
			chart := charts[0]
			charts = charts[1:]
			need.ID, need.Where, need.Judged = "n"+string(n.Site.Site.ID), tracker.SiteName(n.Site.Site, view.Yard.LegWords), judgedWords(n.Site.Judgement, page.Base)
			need.Headline = headlineOf(*n.Site, chart, view.Today)
			if len(chart.Panel.Points) > 0 {
				need.Chart = &chart
			} else if len(n.Site.Current) == 0 {
				page.More = true
			}
			if n.Together() {
				need.Together = tagsOf(n, view.Needs) + " get worse together. That says more than each alone."
			}
		}
		page.Needs = append(page.Needs, need)
	}
	return h.draw(w, http.StatusOK, "vet", page)
}

// tagsOf names the sites of a horse that get worse together.
func tagsOf(n care.VetNeed, all []care.VetNeed) string {
	var tags []string
	for _, other := range all {
		if other.Horse.ID == n.Horse.ID && other.Together() {
			tags = append(tags, siteTag(other.Site.Site))
		}
	}
	return tracker.List(tags)
}

// makeVetLink makes a link to a horse's sheet and shows it, once.
func (h *Handler) makeVetLink(w http.ResponseWriter, r *http.Request, f *form) error {
	var photos []tracker.PhotoID
	for _, id := range f.values["photo"] {
		photos = append(photos, tracker.PhotoID(id))
	}
	token, err := h.care.MakeVetLink(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")), f.text("ask"), photos)
	if tracker.KindOf(err) == tracker.Invalid {
		return h.sheet(w, r, f.back(err))
	}
	if err != nil {
		return err
	}
	return h.sheetPage(w, r, sent{Values: f.values}, h.toSend(r, "/v/"+token))
}

// writeDown keeps what the vet said, in force at once.
func (h *Handler) writeDown(w http.ResponseWriter, r *http.Request, f *form) error {
	in := readProposal(f)
	in.Horse = tracker.HorseID(chi.URLParam(r, "horse"))
	return h.done(w, r, f, func() error { return h.care.WriteDown(r.Context(), actorOf(r), in) }, "/horse/"+string(in.Horse)+"/vet#word", h.sheet)
}

func readProposal(f *form) tracker.Proposal {
	return tracker.Proposal{ID: f.record(), Name: f.text("name"), Plan: f.text("plan"), RingIf: f.text("ring_if"), Hash: f.hash()}
}

// answerProposal accepts, declines or ends what a vet wrote.
func (h *Handler) answerProposal(w http.ResponseWriter, r *http.Request, f *form) error {
	answer := parsed(f, "answer", tracker.ParseProposalState)
	if err := f.problems.Err(); err != nil {
		return err
	}
	return then(w, r, h.care.AnswerProposal(r.Context(), actorOf(r), tracker.RecordID(chi.URLParam(r, "record")), answer), localPath(f.text("back")))
}

// vetRoutes are those about what the vet must know, may see and has said.
func (h *Handler) vetRoutes() []route {
	const get, post = http.MethodGet, http.MethodPost
	return []route{
		{get, "/horse/{horse}/trend", members, h.trend, false},
		{get, "/vet", members, h.vetList, false},
		{get, "/horse/{horse}/vet", members, fresh(h.sheet), false},
		{get, "/horse/{horse}/vet.pdf", members, h.sheetPDF, false},
		{post, "/horse/{horse}/vet/link", owners, h.posted(h.makeVetLink), false},
		{post, "/horse/{horse}/vet/word", owners, h.posted(h.writeDown), false},
		{post, "/proposal/{record}", owners, h.posted(h.answerProposal), false},
		{get, "/spread", members, fresh(h.spread), false},
		{post, "/spread", members, h.posted(h.saveSpread), false},
		{get, "/rules/cautions", members, fresh(h.cautionRules), false},
		{post, "/rules/cautions", owners, h.posted(h.changeRule), false},
		{get, "/rules/healing", members, fresh(h.healingRules), false},
		{post, "/rules/healing", owners, h.posted(h.changeHealing), false},
		{get, "/v/{token}", anybody, h.outside(fresh(h.vetLink)), false},
		{post, "/v/{token}", anybody, h.outside(h.posted(h.propose)), false},
		{get, "/v/{token}/sheet.pdf", anybody, h.outside(h.vetLinkPDF), false},
		{get, "/v/{token}/photo/{photo}", anybody, h.outside(h.vetLinkPhoto(false)), false},
		{get, "/v/{token}/photo/{photo}/thumb", anybody, h.outside(h.vetLinkPhoto(true)), false},
	}
}
