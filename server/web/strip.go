package web

import (
	"fmt"
	"net/http"
	"strconv"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// StripPage is the photos of one site from oldest to newest, two at a time beside each other.
type StripPage struct {
	Base
	View  care.StripView
	Pair  []StripPhoto // two, or one when there is one
	All   []StripPhoto
	Older string // address of the pair before; empty: none
	Newer string
	Ends  string // address of the first photo beside the last
}

// StripPhoto is one photo with its place in the strip.
type StripPhoto struct {
	tracker.Photo
	Number  int    // from 1
	Address string // of the pair that it begins
	Here    bool   // it is one of the pair
}

// strip shows a pair of photos: the last two, or those whose numbers the address gives.
func (h *Handler) strip(w http.ResponseWriter, r *http.Request) error {
	horse, site := tracker.HorseID(chi.URLParam(r, "horse")), tracker.SiteID(chi.URLParam(r, "site"))
	view, err := h.care.Strip(r.Context(), actorOf(r), horse, site)
	if err != nil {
		return err
	}
	page := StripPage{Base: h.base(r, "Photos of "+view.Site.Tag()).inYard(view.Moment, "horses"), View: view}
	n := len(view.Photos)
	left, right := max(1, n-1), n
	if text := r.URL.Query().Get("pair"); text != "" {
		if _, err := fmt.Sscanf(text, "%d-%d", &left, &right); err != nil || left < 1 || right > n || left >= right {
			return tracker.Refuse(tracker.Invalid, "The pair in the address must be two numbers of photos, like 1-2.")
		}
	}
	pair := func(left, right int) string {
		return "?pair=" + strconv.Itoa(left) + "-" + strconv.Itoa(right)
	}
	for i, photo := range view.Photos {
		at := i + 1
		one := StripPhoto{Photo: photo, Number: at, Here: at == left || at == right, Address: pair(at, at+1)}
		if at == n {
			one.Address = pair(max(1, n-1), n)
		}
		page.All = append(page.All, one)
		if one.Here {
			page.Pair = append(page.Pair, one)
		}
	}
	if left > 1 {
		page.Older = pair(left-1, left)
	}
	if right < n {
		page.Newer = pair(right, right+1)
	}
	if n > 2 {
		page.Ends = pair(1, n)
	}
	return h.draw(w, http.StatusOK, "strip", page)
}
