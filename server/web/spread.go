package web

import (
	"fmt"
	"net/http"

	"leground/tracker"
	"leground/tracker/care"
)

// SpreadPage asks for second readings, taken without seeing the first, and shows the spread that they give.
type SpreadPage struct {
	Base
	View    care.SpreadView
	Due     []BlindForm
	Spreads []SpreadLine
	Done    []string // of today, in words: both readings
	Start   string   // what is assumed until then
	Wanted  int      // pairs that are still missing before the spread is worked out
}

// BlindForm is the form of one second reading. It knows nothing of the first but who took it.
type BlindForm struct {
	sent
	care.BlindDue
	Words tracker.LegWords
	By    string
}

// SpreadLine is one measuring spread in words.
type SpreadLine struct{ Who, MM, Pairs string }

func (h *Handler) spread(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.Spread(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := SpreadPage{Base: h.base(r, "Measure again, blind").inYard(view.Moment, "round").barn().wrong(state.why), View: view, Wanted: care.PairsWanted, Start: tracker.FormatFloat(view.Start, 1, view.Yard.Mark) + "\u00a0mm"}
	for _, due := range view.Due {
		form := BlindForm{BlindDue: due, Words: page.Words, By: view.People[due.By]}
		if state.Value("site", "") == string(due.Site.ID) {
			form.sent = state
		}
		page.Due = append(page.Due, form)
	}
	for _, s := range view.Spreads {
		page.Spreads = append(page.Spreads, page.line(s))
		if s.Person == "" && s.Method == tracker.Ruler {
			page.Wanted = max(0, care.PairsWanted-s.Pairs)
		}
	}
	for _, p := range view.Done {
		site := view.Sites[p.First.Site]
		page.Done = append(page.Done, fmt.Sprintf("%s %s: %s read %d x %d mm, you read %d x %d mm.", view.Horses[site.Horse].Name, siteTag(site), view.People[p.First.Looker],
			p.First.Size.LengthMM, p.First.Size.WidthMM, p.Second.Size.LengthMM, p.Second.Size.WidthMM))
	}
	return h.draw(w, page.status(), "spread", page)
}

func (p SpreadPage) line(s care.Spread) SpreadLine {
	out := SpreadLine{Who: "Everybody", MM: "not known yet", Pairs: tracker.Count(s.Pairs, "pair")}
	if s.Person != "" {
		out.Who = p.View.People[s.Person]
	}
	if s.Method != tracker.Ruler {
		out.Who += " (" + s.Method.String() + ")"
	}
	if s.MM > 0 {
		out.MM = tracker.FormatFloat(s.MM, 1, p.Mark) + "\u00a0mm"
	}
	return out
}

// saveSpread keeps a second reading.
func (h *Handler) saveSpread(w http.ResponseWriter, r *http.Request, f *form) error {
	check := tracker.Check{ID: f.record(), Site: tracker.SiteID(f.text("site")), Hash: f.hash()}
	check.Size.LengthMM, check.Size.WidthMM = f.whole("length", "Longest way"), f.whole("width", "Across that")
	if check.Size.WidthMM > check.Size.LengthMM && check.Size.LengthMM > 0 {
		check.Size.LengthMM, check.Size.WidthMM = check.Size.WidthMM, check.Size.LengthMM // the longest way is the longer of the two
	}
	return h.done(w, r, f, func() error {
		_, err := h.care.RecordBlind(r.Context(), actorOf(r), tracker.RecordID(f.text("first")), care.Entry{Check: check})
		return err
	}, "/spread", h.spread)
}
