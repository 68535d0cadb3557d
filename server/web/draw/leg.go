package draw

import (
	"html/template"
	"slices"

	"leground/tracker"
)

// Feather is how the long hair of the lower leg was during a look; it hides skin.
type Feather int

// The states of feather. The zero Feather is not known and draws none.
const (
	FeatherOn Feather = iota + 1
	FeatherLifted
	FeatherClipped
)

// Place is one site on a leg. An open site hatches its band, a closed one shows a seam.
type Place struct {
	Region tracker.Region
	Aspect tracker.Aspect
	Tag    string
	Closed bool
}

// LegView is one of the four views of a leg. Places may hold all sites of the leg: a view shows those
// on its own face, those that run all round, and, from behind, those on the ground surface.
type LegView struct {
	ID         string // prefix of the ids inside the drawing, unique on the page
	LabelledBy string // ids of the words that describe it
	Leg        tracker.Leg
	Aspect     tracker.Aspect // Lateral, Dorsal, Medial, or the leg's Back
	Feather    Feather
	Places     []Place
	Selected   tracker.Region // 0: none

	// Link gives where a band leads and the words for it; nil draws a leg that cannot be tapped.
	Link func(tracker.Region) (address, words string)
}

// Views lists the four faces of a leg in the order they are looked at.
func Views(leg tracker.Leg) []tracker.Aspect {
	return []tracker.Aspect{tracker.Lateral, tracker.Dorsal, tracker.Medial, leg.Back()}
}

// Bands lists the parts that a view shows, from the top down: the rungs of the ladder.
func Bands(leg tracker.Leg, aspect tracker.Aspect) []tracker.Region {
	var regions []tracker.Region
	for _, b := range shapes(leg.Fore(), aspect) {
		regions = append(regions, b.region)
	}
	return regions
}

// BandOf gives the part of a view on which a region is drawn; 0 when the view does not show it.
func BandOf(leg tracker.Leg, aspect tracker.Aspect, region tracker.Region) tracker.Region {
	b, _ := bandFor(shapes(leg.Fore(), aspect), region)
	return b.region
}

// mirrored tells a view with the toe to the right, or of a right leg.
func (v LegView) mirrored() bool { return v.Leg.Left() == (v.Aspect == tracker.Medial) }

// here lists the places that the view shows.
func (v LegView) here() []Place {
	behind := v.Aspect == v.Leg.Back()
	var places []Place
	for _, p := range v.Places {
		if p.Aspect == v.Aspect || p.Aspect == tracker.AllRound || p.Aspect == tracker.Ground && behind {
			places = append(places, p)
		}
	}
	return places
}

// Leg draws a view in its true shape, 150 by 302 units, each site's tag beside its band.
func Leg(v LegView) template.HTML {
	role := "img"
	if v.Link != nil {
		role = "group"
	}
	s := open("leg", role, v.LabelledBy, -6, -6, 150, 302)
	bands, places := shapes(v.Leg.Fore(), v.Aspect), v.here()
	v.draw(s, bands, places, "")
	v.tags(s, bands, places)
	return s.html()
}

// sliceWidth and sliceHeight are the pixels of a ladder slice; it stretches with its row.
const sliceWidth, sliceHeight = 110.0, 76.0

// Slice draws the part of a view that stands in the ladder's row for a band, without words. Slices of
// one view stack into a leg with equal rungs. A band that the view does not have gives nothing.
func Slice(v LegView, region tracker.Region) template.HTML {
	bands := shapes(v.Leg.Fore(), v.Aspect)
	at := slices.IndexFunc(bands, func(b band) bool { return b.region == region })
	if at < 0 {
		return ""
	}
	top, bottom := bands[at].top, 290.0
	if at+1 < len(bands) {
		bottom = bands[at+1].top
	}
	s := new(svg)
	s.add(`<svg class="leg slice" viewBox="-4 %s 98 %s" width="%s" height="%s" preserveAspectRatio="none" aria-hidden="true" focusable="false">`,
		num(top), num(bottom-top), num(sliceWidth), num(sliceHeight))
	v.Link, v.ID = nil, v.ID+"-"+region.String()
	// The slice is stretched to its row; the hatch is squeezed by as much, so that it stays even.
	squeeze := "scale(" + num3(98/sliceWidth) + " " + num3((bottom-top)/sliceHeight) + ") "
	v.draw(s, bands, v.here(), squeeze)
	return s.html()
}

// draw writes the bands of a view with their hatch, seams, feather and selection.
func (v LegView) draw(s *svg, bands []band, places []Place, squeeze string) {
	hatch := v.ID + "-hatch"
	if slices.ContainsFunc(places, func(p Place) bool { return !p.Closed }) {
		s.hatch(hatch, squeeze)
	}
	s.WriteString(`<g`)
	if v.mirrored() {
		s.WriteString(` transform="translate(90,0) scale(-1,1)"`)
	}
	s.WriteString(` stroke-linejoin="round">`)
	for _, b := range bands {
		v.drawBand(s, b, bands, places, hatch)
	}
	if v.Feather == FeatherOn || v.Feather == FeatherLifted {
		for _, path := range featherPaths(v.Aspect, v.Feather == FeatherLifted) {
			s.add(`<path class="feather" d="%s" fill="none" stroke="currentColor" stroke-width="2" stroke-dasharray="7 4" vector-effect="non-scaling-stroke"/>`, path)
		}
	}
	if b, ok := bandFor(bands, v.Selected); ok && v.Selected != 0 {
		s.add(`<path class="ring-outer" d="%[1]s" fill="none" stroke="currentColor" stroke-width="8" vector-effect="non-scaling-stroke"/>`+
			`<path class="ring-inner" d="%[1]s" fill="none" stroke="#fff" stroke-width="3" vector-effect="non-scaling-stroke"/>`, b.path())
	}
	s.WriteString("</g>")
}

// drawBand writes one band; with a link, also an unseen area that makes a thin band easy to hit.
func (v LegView) drawBand(s *svg, b band, bands []band, places []Place, hatch string) {
	left, top, right, bottom := b.box()
	if v.Link != nil {
		address, words := v.Link(b.region)
		s.add(`<a href="%s"><title>%s</title>`, esc(address), esc(words))
		defer s.WriteString("</a>")
	}
	openSite, closedSite := false, false
	for _, p := range places {
		if at, ok := bandFor(bands, p.Region); ok && at.region == b.region {
			openSite, closedSite = openSite || !p.Closed, closedSite || p.Closed
		}
	}
	class := "band"
	if b.region == tracker.Wall {
		class = "hoof"
	}
	if openSite {
		class = "open"
	}
	s.add(`<path class="%s" d="%s" fill="none" stroke="currentColor" stroke-width="2" vector-effect="non-scaling-stroke"/>`, class, b.path())
	switch {
	case openSite:
		s.add(`<path class="hatch" d="%s" fill="url(#%s)"/>`, b.path(), esc(hatch))
	case closedSite:
		x, y, half := (left+right)/2, (top+bottom)/2, min(7, (bottom-top)/2-2)
		s.add(`<path class="seam" d="M%[1]s,%[2]sV%[3]s M%[4]s,%[5]sh8 M%[4]s,%[6]sh8" fill="none" stroke="currentColor" stroke-width="1.5" vector-effect="non-scaling-stroke"/>`,
			num(x), num(y-half), num(y+half), num(x-4), num(y-half/2), num(y+half/2))
	}
	if v.Link != nil && bottom-top < leastHit {
		s.add(`<rect class="hit" x="%s" y="%s" width="%s" height="%s" fill="none" pointer-events="all"/>`,
			num(left), num(bottom-leastHit), num(right-left), num(leastHit))
	}
}

// leastHit is 24 px when a view of 150 units is shown 160 px wide. The area reaches up, not down: the
// band below is drawn later and would cover it.
const leastHit = 23.0

// tags writes each site's tag to the right of its band, never inside, with a leader; tags that would
// stand on each other move apart.
func (v LegView) tags(s *svg, bands []band, places []Place) {
	type tag struct {
		words  string
		x, y   float64 // the end of the leader on the band
		beside float64 // the middle of the words
	}
	var tags []tag
	for _, p := range places {
		b, ok := bandFor(bands, p.Region)
		if !ok || p.Tag == "" {
			continue
		}
		left, top, right, bottom := b.box()
		if v.mirrored() {
			right = 90 - left
		}
		middle := (top + bottom) / 2
		tags = append(tags, tag{p.Tag, min(right, 90), middle, middle})
	}
	slices.SortStableFunc(tags, func(a, b tag) int { return int(a.y - b.y) })
	const apart = 16.0
	for i := 1; i < len(tags); i++ {
		tags[i].beside = max(tags[i].beside, tags[i-1].beside+apart)
	}
	lowest := 288.0
	for i := len(tags) - 1; i >= 0; i-- {
		tags[i].beside = min(tags[i].beside, lowest)
		lowest = tags[i].beside - apart
	}
	for _, t := range tags {
		s.add(`<path d="M%s,%s 96,%s" stroke="currentColor" fill="none"/>`, num(t.x), num(t.y), num(t.beside))
		s.text(98, t.beside+5, "start", "strong", t.words)
	}
}
