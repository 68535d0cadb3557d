package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
)

// TrendPage is a horse's trend sheet: one panel a site, all on one scale.
type TrendPage struct {
	Base
	View     care.HorseView
	Groups   []TrendGroup // one, or one a leg
	Picture  []string
	Spans    []TrendChoice
	Scales   []TrendChoice
	More     []TrendChoice // second views, order, tables
	Tables   bool          // print the tables too
	Cut      bool          // there is more than the sheet can hold
	Happened []string      // along the charts, said once on paper
	Method   string
}

// TrendGroup is the panels that stand under one heading.
type TrendGroup struct {
	Leg     tracker.Leg // zero: all legs
	Picture []string
	Sites   []TrendSite
}

// TrendChoice is one way to see the sheet.
type TrendChoice struct {
	Words, Address string
	Chosen         bool
}

// TrendSite is one site with everything that its panel needs.
type TrendSite struct {
	Base     Base
	Horse    tracker.Horse
	Site     tracker.Site
	ID       string // prefix of ids on the page
	Headline string
	Judged   Judged
	Chart    ChartPart
	Reach    *ChartPart // of a patch: its extent, as a series of its own
	Log      bool
	Open     bool // its table is open
	Rows     []TrendRow
	People   map[tracker.PersonID]string
}

// TrendRow is one reading in the table behind a chart.
type TrendRow struct {
	tracker.Check
	Old                bool // put right later, or taken back: not in the chart
	Sized              bool // it is a dot in the chart
	DayNo              int
	Area, Give, Share  string
	Advance            string // of the edge since the reading before, mm a week
	Score, Signs, Care string
	Photo              *tracker.Photo
}

// trendSpans are the spans that can be chosen, in days.
var trendSpans = [...]struct {
	name, words string
	days        int
}{{"2", "2 weeks", 14}, {"4", "4 weeks", 28}, {"all", "all", care.TrendMost}}

func (h *Handler) trend(w http.ResponseWriter, r *http.Request) error {
	asked := r.URL.Query()
	days := trendSpans[1].days
	for _, s := range trendSpans {
		if asked.Get("span") == s.name {
			days = s.days
		}
	}
	view, err := h.care.Trend(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")), days)
	if err != nil {
		return err
	}
	page := TrendPage{Base: h.base(r, "Trend sheet").inYard(view.Moment, "horses"), View: view, Tables: asked.Get("tables") != "",
		Cut: days == care.TrendMost && view.Earlier, Picture: pictureLines(view.Picture, view.Sites), Method: methodLine(view.Sites, view.Yard, true)}
	page.Close = true
	page.choices(asked, days)
	frame := frameOf(view)
	frame.own, frame.signs = asked.Get("scale") == "own", true
	shown := slices.DeleteFunc(slices.Clone(view.Sites), func(s care.SiteHistory) bool { return len(s.Current) == 0 })
	charts := frame.charts(shown)
	var sites []TrendSite
	var names []string
	for i, in := range shown {
		names = append(names, siteTag(in.Site))
		site := trendSite(page, frame, in, charts[i])
		site.Log, site.Open = asked.Get("log") != "" && in.Site.Kind == tracker.Wound, page.Tables
		sites = append(sites, site)
	}
	page.Happened = sharedPhases(charts, names)
	page.Groups = []TrendGroup{{Sites: sites}}
	if asked.Get("by") == "leg" {
		page.Groups = byLeg(view, sites)
	}
	return h.draw(w, http.StatusOK, "trend", page)
}

// choices are links, since every way to see the sheet has an address.
func (p *TrendPage) choices(asked url.Values, days int) {
	with := func(name, value string) string {
		next := url.Values{}
		for _, known := range []string{"span", "scale", "log", "by", "tables"} {
			if v := asked.Get(known); v != "" && known != name {
				next.Set(known, v)
			}
		}
		if value != "" {
			next.Set(name, value)
		}
		return "?" + next.Encode()
	}
	for _, s := range trendSpans {
		p.Spans = append(p.Spans, TrendChoice{s.words, with("span", s.name), s.days == days})
	}
	own := asked.Get("scale") == "own"
	p.Scales = []TrendChoice{{"Same scale for all", with("scale", ""), !own}, {"Own scale each", with("scale", "own"), own}}
	for _, c := range []struct{ name, value, words string }{{"log", "1", "Log view beside it"}, {"by", "leg", "Compare leg by leg"}, {"tables", "1", "With tables"}} {
		on := asked.Get(c.name) == c.value
		choice := TrendChoice{c.words, with(c.name, c.value), on}
		if on {
			choice.Address = with(c.name, "")
		}
		p.More = append(p.More, choice)
	}
}

func byLeg(view care.HorseView, sites []TrendSite) []TrendGroup {
	var out []TrendGroup
	for _, leg := range view.Horse.OrderIn(view.Yard) {
		group := TrendGroup{Leg: leg}
		for _, s := range sites {
			if s.Site.Leg == leg {
				group.Sites = append(group.Sites, s)
			}
		}
		group.Picture = legPicture(view, leg)
		out = append(out, group)
	}
	return out
}

// methodLine says once how sizes were worked out and what the bars are.
func methodLine(sites []care.SiteHistory, yard tracker.Yard, signs bool) string {
	spread := ""
	for _, s := range sites {
		spread = tracker.FormatFloat(s.Settings.Spread(tracker.Ruler, ""), 1, yard.Mark) + "\u00a0mm"
	}
	if spread == "" {
		return ""
	}
	line := "Areas are about: worked out as an oval, pi / 4 x longest x widest. The bars are give or take: 19 readings in 20 of the same wound would lie within, " +
		"by our measuring spread of " + spread + " for one length. Short ticks under the axis are days without a look, open rings days on which it could not be measured."
	if signs {
		line += " Squares are signs: filled, seen; empty, looked and not there; none, not looked."
	}
	return line
}

func trendSite(page TrendPage, frame frame, in care.SiteHistory, chart ChartPart) TrendSite {
	out := TrendSite{
		Base: page.Base, Horse: page.View.Horse, Site: in.Site, ID: strings.ReplaceAll(in.Site.Tag(), " ", "-"),
		Headline: headlineOf(in, chart, page.View.Today), Judged: judgedWords(in.Judgement, page.Base), Chart: chart, People: page.View.People,
	}
	if reach, ok := frame.reach(in); ok {
		out.Reach = &reach
	}
	out.Rows = trendRows(page, in, chart)
	return out
}

// trendRows lists every reading of the span, newest first; what was put right stands struck through.
func trendRows(page TrendPage, in care.SiteHistory, chart ChartPart) []TrendRow {
	current := map[tracker.RecordID]bool{}
	for _, c := range in.Current {
		current[c.ID] = true
	}
	cared := careByDay(page.View, in.Site.Leg)
	var rows []TrendRow
	var before *tracker.Check
	for _, c := range slices.Backward(in.All) { // oldest first, so that an advance has a reading before it
		if c.Day < chart.Panel.First {
			continue
		}
		row := TrendRow{Check: c, Old: !current[c.ID], DayNo: int(c.Day-chart.Panel.DayOne) + 1, Score: scoreWords(c), Signs: signWords(c), Care: cared[c.Day]}
		if chart.Panel.DayOne == 0 {
			row.DayNo = int(c.Day-chart.Panel.First) + 1
		}
		_, row.Sized = pointOf(in, c)
		row.Sized = row.Sized && !row.Old && c.Outcome == tracker.Looked
		if c.Size.Answer.HasLengths() {
			row.Area, row.Give = areaText(areaOf(c.Size), page.Mark), areaText(giveOrTake(c, in.Settings), page.Mark)
			row.sizes(in, &before, page.Mark)
		}
		if photo, ok := in.Photos[c.ID]; ok {
			row.Photo = &photo
		}
		rows = append(rows, row)
	}
	slices.Reverse(rows)
	return rows
}

// sizes fills in what a size is against the first one, and the advance of the edge since the one before it.
func (r *TrendRow) sizes(in care.SiteHistory, before **tracker.Check, mark tracker.DecimalMark) {
	if in.First != nil {
		r.Share = tracker.FormatFloat(100*areaOf(r.Size)/areaOf(in.First.Size), 0, mark) + "% of first"
	}
	if r.Old || r.Outcome != tracker.Looked {
		return
	}
	if b := *before; b != nil && b.Day < r.Day {
		around := func(s tracker.Size) float64 {
			return healing.EllipsePerimeterMM(float64(s.LengthMM), float64(s.WidthMM))
		}
		mm := healing.GilmanMM(areaOf(b.Size), around(b.Size), areaOf(r.Size), around(r.Size))
		r.Advance = rateText(mm*7/float64(r.Day-b.Day), mark)
	}
	c := r.Check
	*before = &c
}

// signWords lists the signs that were seen at a look.
func signWords(c tracker.Check) string {
	var out []string
	for _, sign := range append(append(tracker.ActiveSigns(), tracker.ChronicSigns()...), tracker.Thrush) {
		if level := c.Signs[sign]; level > 0 {
			out = append(out, fmt.Sprintf("%s: %s", tracker.SignName(sign), tracker.SignStep(sign, level)))
		}
	}
	for _, d := range c.Dangers {
		out = append(out, tracker.DangerName(d))
	}
	for _, f := range c.Flags {
		out = append(out, tracker.FlagName(f))
	}
	if len(out) == 0 && len(c.Signs) > 0 {
		return "none of those judged"
	}
	return strings.Join(out, ". ")
}

// careByDay says what was done for a leg on each day.
func careByDay(view care.HorseView, leg tracker.Leg) map[tracker.Date]string {
	acts := map[tracker.Date]map[tracker.CareAct]bool{}
	for _, c := range care.Current(view.Lines) {
		for _, act := range c.Care {
			if c.Leg == leg && acts[c.Day] == nil {
				acts[c.Day] = map[tracker.CareAct]bool{}
			}
			if c.Leg == leg {
				acts[c.Day][act] = true
			}
		}
	}
	out := map[tracker.Date]string{}
	for day, done := range acts {
		var words []string
		for _, act := range tracker.CareActs() {
			if done[act] {
				words = append(words, tracker.CareName(act))
			}
		}
		out[day] = strings.Join(words, ", ")
	}
	return out
}
