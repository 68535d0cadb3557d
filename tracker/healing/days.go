package healing

import (
	"slices"

	"leground/tracker"
)

// point is one measured day of one site: the median of that day's readings with the judged method.
type point struct {
	day      tracker.Date
	area     float64 // cm2; 0 with closed
	radius   float64 // equivalent radius in mm
	variance float64 // expected variance of ln area
	error    float64 // 95 % measuring error of area, cm2
	closed   bool    // no open skin was seen
	clear    bool    // closed, skin seen, no scab and no bandage, in every reading of the day
	starts   bool    // the first measured day of a series
}

// takeover is how many measured days a newly used method needs before it is judged instead of one that
// was still in use within the last week.
const takeover = 5

// course is one site made ready for judging as of a day.
type course struct {
	settings Settings
	site     *Site
	asOf     tracker.Date
	first    tracker.Date // first measured day of the site
	reset    tracker.Date // the series of asOf began here; zero: with the first reading
	method   tracker.Method
	points   []point // measured days of the horizon, oldest first
	base     point   // first day with open skin since the reset, perhaps older than the horizon
	oldest   int     // the first point whose look may still bear on the label
	labels   []Label // label of each point looked at alone, as far as worked out
	work     work
}

func newCourse(site *Site, s Settings, asOf tracker.Date) *course {
	c := &course{settings: s, site: site, asOf: asOf, first: site.firstDay()}
	if c.first > asOf {
		c.first = 0
	}
	readings := ordered(site.Readings, asOf)
	resets := append(reopenings(readings), site.Resets...)
	if site.Onset != 0 {
		resets = append(resets, site.Onset)
	}
	resets = slices.DeleteFunc(resets, func(d tracker.Date) bool { return d > asOf })
	slices.Sort(resets)
	if len(resets) > 0 {
		c.reset = resets[len(resets)-1]
	}
	c.method = judgedMethod(readings, asOf, c.reset)
	c.gather(readings, resets)
	c.labels = make([]Label, len(c.points))
	for c.oldest < len(c.points)-1 && c.points[c.oldest].day <= asOf-backDays {
		c.oldest++
	}
	return c
}

// judgedMethod picks the method whose readings make the series: the one used last, but a method new to
// the site takes over only with five measured days, while the old one was in use within a week.
func judgedMethod(readings []Reading, asOf, reset tracker.Date) tracker.Method {
	var days [tracker.PhotoSize + 1]int
	var last [tracker.PhotoSize + 1]tracker.Date
	for _, r := range readings {
		if r.closed() || r.Day < reset || r.Day <= asOf-HorizonDays || last[r.Method] == r.Day {
			continue
		}
		days[r.Method]++
		last[r.Method] = r.Day
	}
	newest := tracker.Method(0)
	for m := range days {
		if last[m] > last[newest] || last[m] == last[newest] && days[m] > days[newest] {
			newest = tracker.Method(m)
		}
	}
	chosen := newest
	for m := range days {
		if days[newest] < takeover && days[m] >= takeover && last[m] > asOf-7 && days[m] > days[chosen] {
			chosen = tracker.Method(m)
		}
	}
	return chosen
}

// gather turns sorted readings into one point a day. A zero counts whatever the method.
func (c *course) gather(readings []Reading, resets []tracker.Date) {
	from := c.asOf - HorizonDays + 1
	c.points = make([]point, 0, min(len(readings), HorizonDays))
	for len(readings) > 0 {
		n := 1
		for n < len(readings) && readings[n].Day == readings[0].Day {
			n++
		}
		day := readings[:n]
		readings = readings[n:]
		if day[0].Day < from && (c.base.day != 0 || day[0].Day < c.reset) {
			continue
		}
		p, ok := c.pointOf(day)
		if !ok {
			continue
		}
		if c.base.day == 0 && !p.closed && p.day >= c.reset {
			c.base = p
		}
		if p.day >= from {
			c.points = append(c.points, p)
		}
	}
	last := from - 1
	for i := range c.points {
		at, _ := slices.BinarySearch(resets, c.points[i].day+1)
		c.points[i].starts = i == 0 && c.first >= from || at > 0 && resets[at-1] > last
		last = c.points[i].day
	}
}

// pointOf makes the point of one day's readings, sorted by area. It tells whether there is one.
func (c *course) pointOf(day []Reading) (point, bool) {
	p := point{day: day[0].Day, clear: true}
	var used [8]Reading
	of := used[:0]
	for _, r := range day {
		if r.Method == c.method || r.closed() {
			of = append(of, r)
			p.clear = p.clear && r.clear()
		} else {
			p.clear = false
		}
	}
	n := len(of)
	if n == 0 {
		return p, false
	}
	mid := of[n/2]
	p.area = mid.Area()
	if n%2 == 0 {
		p.area = (of[n/2-1].Area() + p.area) / 2
	}
	p.closed = p.area < smallest
	if !p.closed {
		p.radius = RadiusMM(p.area)
		p.variance, p.error = c.settings.expectedVariance(mid), c.settings.GiveOrTake(mid)
	}
	return p, true
}

// perimeter gives the median perimeter in mm of the readings that made a point.
func (c *course) perimeter(p point) float64 {
	var all []float64
	for _, r := range c.site.Readings {
		if r.Day == p.day && r.Method == c.method && r.Valid() && !r.closed() {
			all = append(all, r.PerimeterMM())
		}
	}
	return median(all)
}
