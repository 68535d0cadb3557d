package draw

import (
	"html/template"

	"leground/tracker"
)

// Post is what the four-post plan says of one site: its tag and its label. An empty label is a site
// without one, such as a closed site.
type Post struct {
	Leg    tracker.Leg
	Tag    string
	Label  string
	Closed bool
}

// The four-post plan: its width, the height of a line of words and the least height of a post.
const (
	planWidth = 420.0
	planLine  = 19.0
	leastPost = 64.0
)

// FourPosts draws the four-post plan for paper: a horse seen from above with the head up, a post
// hatched where a site is open, and each site's tag, mark and label beside its post. id is the prefix
// of the ids inside; labelledBy gives the ids of the words that describe it. A label without a mark is
// an error.
func FourPosts(id, labelledBy string, sites []Post) (template.HTML, error) {
	lines := map[tracker.Leg][]Post{}
	for _, site := range sites {
		lines[site.Leg] = append(lines[site.Leg], site)
	}
	rowHeight := func(left, right tracker.Leg) float64 {
		return max(leastPost, planLine*float64(max(len(lines[left]), len(lines[right])))+12)
	}
	fore := rowHeight(tracker.LF, tracker.RF)
	height := 24 + fore + 12 + rowHeight(tracker.LH, tracker.RH)
	s := open("four-posts", "img", labelledBy, 0, 0, planWidth, height)
	s.hatch(id+"-hatch", "")
	s.add(`<path d="M%[1]s,4h76v12h-76Z M%[2]s,4h12V%[3]sh-12Z" fill="currentColor"/>`, num(planWidth/2-38), num(planWidth/2-6), num(height))
	for _, leg := range tracker.Legs() {
		top := 24.0
		if !leg.Fore() {
			top += fore + 12
		}
		if err := drawPost(s, leg, lines[leg], top, id); err != nil {
			return "", err
		}
	}
	return s.html(), nil
}

// drawPost writes one post with its tag and the lines of its sites, outward from the spine.
func drawPost(s *svg, leg tracker.Leg, sites []Post, top float64, id string) error {
	x, words, anchor, mark := planWidth/2-48, planWidth/2-56, "end", planWidth/2-74
	if !leg.Left() {
		x, words, anchor, mark = planWidth/2+14, planWidth/2+56, "start", planWidth/2+56
	}
	fill, openSites := "none", false
	for _, site := range sites {
		openSites = openSites || !site.Closed
	}
	if openSites {
		fill = "url(#" + esc(id) + "-hatch)"
	}
	s.add(`<path d="M%s,%sh34v%sh-34Z" fill="%s" stroke="currentColor" stroke-width="2"/>`, num(x), num(top+18), num(leastPost-20), fill)
	s.text(x+17, top+13, "middle", "strong", leg.String())
	if len(sites) == 0 {
		s.text(words, top+35, anchor, "", "nothing open")
	}
	for i, site := range sites {
		y := top + 16 + planLine*float64(i)
		at := words
		if site.Label != "" {
			path, err := markPath(site.Label)
			if err != nil {
				return err
			}
			s.add(`<g transform="translate(%s,%s) scale(0.5)">%s</g>`, num(mark), num(y-13), path)
			at += 22
			if leg.Left() {
				at -= 44
			}
		}
		line := site.Tag
		if site.Label != "" {
			line += " " + site.Label
		}
		s.text(at, y, anchor, "", line)
	}
	return nil
}
