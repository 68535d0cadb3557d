package web

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"

	"github.com/go-chi/chi/v5"

	"leground/server/web/draw"
	"leground/server/web/sheet"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/cautions"
	"leground/tracker/healing"
)

// SheetPage is one horse's sheet for the vet, with what the yard does about it: photos, links, answers.
type SheetPage struct {
	Base
	sent
	View    care.SheetView
	Sheet   SheetPart
	Choices []PhotoChoice
	PDF     string // address of the sheet as a PDF, as it was asked for
	Side    care.VetSide
	Made    sendable // address of a link that has just been made, shown once
}

// PhotosPicked is how many photos fit on a sheet.
func (SheetPage) PhotosPicked() int { return sheetPhotos }

// SheetPart is the sheet itself, on the page, behind a link and on paper.
type SheetPart struct {
	sheet.Sheet
	ID     string // prefix of ids on the page
	Charts []SheetChart
	Photos []SheetPhoto
}

// SheetChart is one chart with its words.
type SheetChart struct {
	ID, Headline string
	Part         ChartPart
}

// SheetPhoto is one picked photo with where it is to be had.
type SheetPhoto struct {
	tracker.Photo
	Address, Caption string
}

// PhotoChoice is a photo that can be picked.
type PhotoChoice struct {
	SheetPhoto
	Picked bool
}

const (
	sheetPhotos = 4
	sheetCharts = 6
	choiceMost  = 24
)

func (h *Handler) sheet(w http.ResponseWriter, r *http.Request, state sent) error {
	return h.sheetPage(w, r, state, "")
}

func (h *Handler) sheetPage(w http.ResponseWriter, r *http.Request, state sent, made sendable) error {
	view, err := h.care.Sheet(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")))
	if err != nil {
		return err
	}
	page := SheetPage{Base: h.base(r, "Sheet for the vet").inYard(view.Moment, "vet").wrong(state.why), sent: state, View: view, Made: made}
	if page.Side, err = h.care.VetSide(r.Context(), actorOf(r), view.Horse.ID); err != nil {
		return err
	}
	ask, picked := asked(r, view)
	if state.Values != nil && state.Values.Has("ask") {
		ask, picked = state.Values.Get("ask"), pick(view, state.Values["photo"])
	}
	page.Sheet = sheetOf(view, ask, picked, "/photo/")
	for _, p := range view.Photos[:min(len(view.Photos), choiceMost)] {
		page.Choices = append(page.Choices, PhotoChoice{sheetPhoto(view, p, "/photo/"), slices.ContainsFunc(picked, func(q tracker.Photo) bool { return q.ID == p.ID })})
	}
	page.Close = true
	page.PDF = "/horse/" + string(view.Horse.ID) + "/vet.pdf?" + r.URL.RawQuery
	return h.draw(w, page.status(), "sheet", page)
}

// asked gives the question and the photos that the address names; without any, the newest photo of each of the
// four gravest sites.
func asked(r *http.Request, view care.SheetView) (ask string, picked []tracker.Photo) {
	q := r.URL.Query()
	if q.Has("ask") || q.Has("photo") {
		return q.Get("ask"), pick(view, q["photo"])
	}
	for _, s := range gravest(view.Sites) {
		i := slices.IndexFunc(view.Photos, func(p tracker.Photo) bool { return p.Site == s.Site.ID })
		if i >= 0 && len(picked) < sheetPhotos {
			picked = append(picked, view.Photos[i])
		}
	}
	return "", picked
}

// pick finds photos by their ids, the first four, in the order of the sheet's photos.
func pick(view care.SheetView, ids []string) []tracker.Photo {
	var out []tracker.Photo
	for _, p := range view.Photos {
		if slices.Contains(ids, string(p.ID)) && len(out) < sheetPhotos {
			out = append(out, p)
		}
	}
	return out
}

// gravest gives the open sites, the worst label first.
func gravest(sites []care.SiteHistory) []care.SiteHistory {
	out := slices.DeleteFunc(slices.Clone(sites), func(s care.SiteHistory) bool { return !s.Site.Open() })
	gravity := func(s care.SiteHistory) int {
		if s.Judgement == nil {
			return -1
		}
		return healing.ParseLabel(s.Judgement.Label).Gravity()
	}
	slices.SortStableFunc(out, func(a, b care.SiteHistory) int { return cmp.Compare(gravity(b), gravity(a)) })
	return out
}

// sheetPDF gives the sheet as a PDF, on A4 or on Letter.
func (h *Handler) sheetPDF(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.Sheet(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")))
	if err != nil {
		return err
	}
	ask, picked := asked(r, view)
	part := sheetOf(view, ask, picked, "/photo/")
	return h.sendPDF(w, r, part, func(id tracker.PhotoID) ([]byte, error) {
		return h.care.PhotoBytes(r.Context(), actorOf(r), id, false)
	})
}

func (h *Handler) sendPDF(w http.ResponseWriter, r *http.Request, part SheetPart, bytesOf func(tracker.PhotoID) ([]byte, error)) error {
	out := part.Sheet
	for _, c := range part.Charts {
		out.Panels = append(out.Panels, sheet.Panel{Headline: c.Headline, SVG: c.Part.SVG("h", "s")})
	}
	for _, p := range part.Photos {
		data, err := bytesOf(p.ID)
		if err != nil {
			return err
		}
		out.Photos = append(out.Photos, sheet.Photo{Caption: p.Caption, JPEG: data, Width: p.Width, Height: p.Height})
	}
	paper := sheet.A4
	if r.URL.Query().Get("paper") == "letter" {
		paper = sheet.Letter
	}
	file, err := sheet.PDF(out, paper)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Disposition", `inline; filename="sheet.pdf"`)
	return send(w, "application/pdf", file)
}

// sheetOf puts the sheet into words.
func sheetOf(view care.SheetView, ask string, picked []tracker.Photo, photos string) SheetPart {
	made := view.Now.In(view.Zone).Format("Mon 2 Jan 2006, 15:04")
	out := SheetPart{ID: "sheet", Sheet: sheet.Sheet{
		Title: view.Horse.Name, Sub: view.Horse.Sort, Yard: view.Yard.Name, MadeUp: view.Yard.MadeUp, MadeAt: view.Now, Question: ask,
		Made: "Made " + made + " by " + view.MadeBy + ".", Method: methodLine(view.Sites, view.Yard, false),
		Why: whyWeAsk(view), Background: background(view), Rows: legRows(view), Done: whatWasDone(view), Word: vetsWord(view),
	}}
	if view.Yard.RingNumber != "" {
		out.Ring = strings.TrimSpace(view.Yard.RingName + ", " + view.Yard.RingNumber)
	}
	out.Plan = fourPosts(view)
	frame := frameOf(view.HorseView)
	sites := gravest(view.Sites)
	charts := frame.charts(sites)
	var shown []ChartPart
	var names []string
	for i, s := range sites {
		if len(charts[i].Panel.Points) > 0 && len(out.Charts) < sheetCharts {
			shown, names = append(shown, charts[i]), append(names, siteTag(s.Site))
			out.Charts = append(out.Charts, SheetChart{ID: "sheet-" + strings.ReplaceAll(s.Site.Tag(), " ", "-"), Headline: siteTag(s.Site) + ": " + headlineOf(s, charts[i], view.Today), Part: charts[i]})
		}
	}
	out.Phases = sharedPhases(shown, names)
	for _, p := range picked {
		out.Photos = append(out.Photos, sheetPhoto(view, p, photos))
	}
	return out
}

func sheetPhoto(view care.SheetView, p tracker.Photo, photos string) SheetPhoto {
	where := p.Leg.String()
	for _, s := range view.Sites {
		if s.Site.ID == p.Site {
			where = siteTag(s.Site)
		}
	}
	return SheetPhoto{Photo: p, Address: photos + string(p.ID), Caption: where + ", " + tracker.TimeName(p.At, view.Zone)}
}

// whyWeAsk lists what is open, most urgent first, and what the whole picture says beside it.
func whyWeAsk(view care.SheetView) []string {
	var out []string
	type subject struct {
		leg  tracker.Leg
		site tracker.SiteID
	}
	asked := map[subject]bool{}
	for _, c := range view.Asking { // the most urgent of each subject, the others by name
		about := subject{c.Leg, c.Site}
		if asked[about] {
			continue
		}
		asked[about] = true
		gravest, also := c, []string{}
		for _, other := range view.Asking {
			if (subject{other.Leg, other.Site}) == about && other.Level == gravest.Level {
				gravest = other // the newest look at it
			}
		}
		for _, other := range view.Asking {
			if rule, known := cautions.RuleByID(other.Rule); known && (subject{other.Leg, other.Site}) == about && other.ID != gravest.ID {
				also = append(also, tracker.Small(rule.Title))
			}
		}
		words := tracker.LevelName(gravest.Level) + ": " + gravest.Words()
		if len(also) > 0 {
			words += " Also: " + strings.Join(slices.Compact(also), "; ") + "."
		}
		out = append(out, words)
	}
	if view.Picture.Together {
		out = append(out, pictureLines(healing.Picture{Together: true, Worse: view.Picture.Worse}, view.Sites)...)
	}
	for _, s := range view.Sites {
		if s.Judgement != nil && s.Judgement.Remeasure && s.Site.Open() {
			out = append(out, siteTag(s.Site)+": possible widening, being measured again.")
		}
	}
	if len(out) == 0 {
		out = append(out, cautions.NothingMet(""))
	}
	return atMost(out, 6)
}

// atMost keeps the first items of a list, and says how many more there are.
func atMost(list []string, most int) []string {
	if len(list) <= most {
		return list
	}
	return append(slices.Clone(list[:most-1]), "And "+tracker.Count(len(list)-most+1, "thing")+" more, on the yard's own pages.")
}

func background(view care.SheetView) []string {
	horse := view.Horse
	var out []string
	if horse.Arrived != 0 {
		out = append(out, "Came on "+fullDay(horse.Arrived)+".")
	}
	if horse.Tetanus.Last != 0 {
		out = append(out, "Last tetanus dose on "+fullDay(horse.Tetanus.Last)+".")
	} else {
		out = append(out, "Last tetanus dose not known.")
	}
	out = append(out, "Food chain, by its passport: "+tracker.FoodName(horse.Food)+".")
	if horse.Isolated(view.To) {
		out = append(out, "In isolation until "+fullDay(horse.IsolatedUntil)+".")
	}
	if horse.Handling != "" {
		out = append(out, "Handling: "+horse.Handling)
	}
	if look := lastWhole(view.Lines); look.ID != "" {
		said := tracker.VitalsWords(look.Vitals, view.Yard.LegWords, view.Yard.Mark)
		for _, flag := range look.Flags {
			said = append(said, tracker.FlagName(flag))
		}
		out = append(out, "Whole horse, "+fullDay(look.Day)+": "+strings.Join(said, ". ")+".")
	}
	if view.LastVisit != 0 {
		out = append(out, "Vet last here on "+fullDay(view.LastVisit)+".")
	}
	if view.Visit != 0 {
		out = append(out, "Vet comes on "+fullDay(view.Visit)+".")
	}
	return out
}

// lastWhole is the newest look at the whole horse that stands, of lines with the newest first.
func lastWhole(lines []tracker.Check) tracker.Check {
	for _, c := range care.Current(lines) {
		if c.Subject == tracker.OfHorse && c.Outcome == tracker.Looked && (c.Vitals != tracker.Vitals{} || len(c.Flags) > 0) {
			return c
		}
	}
	return tracker.Check{}
}

// fullDay has the year with it, as everything in print.
func fullDay(d tracker.Date) string { return d.Time().Format("Mon 2 Jan 2006") }

// legRows is the table of legs in walking order: a row a site, and one for a leg without any.
func legRows(view care.SheetView) []sheet.Row {
	var out []sheet.Row
	for _, leg := range view.Horse.OrderIn(view.Yard) {
		before := len(out)
		for _, s := range view.Sites {
			recent := s.Site.Open() || s.Site.ClosedOn >= view.From
			if s.Site.Leg == leg && s.Site.Joined == "" && recent {
				out = append(out, siteRow(view, s))
			}
		}
		if len(out) == before {
			out = append(out, sheet.Row{Tag: leg.String(), Place: tracker.LegName(leg, view.Yard.LegWords) + ": nothing open"})
		}
	}
	return out
}

func siteRow(view care.SheetView, s care.SiteHistory) sheet.Row {
	row := sheet.Row{Tag: siteTag(s.Site), Place: tracker.RegionName(s.Site.Leg, s.Site.Region) + ", " + tracker.AspectName(s.Site.Aspect)}
	if s.Site.Aspect != tracker.AllRound {
		row.Place += " (" + tracker.AspectTerm(s.Site.Aspect) + ")"
	}
	if s.Site.ClosedOn != 0 {
		row.Label, row.Size = healing.ClosedOver.String(), "on "+tracker.DayName(s.Site.ClosedOn)
		return row
	}
	if n := len(s.Current); n > 0 {
		row.Note = signNames(s.Current)
	}
	j := s.Judgement
	if j == nil {
		return row
	}
	row.Label = j.Label
	old := ""
	if day := healing.AsOf(j.Day, view.Today); day != "" {
		old = "; " + day
	}
	if s.Site.Kind == tracker.Patch {
		row.Size = tracker.Capital(scoresLine(healing.Score{Sum: j.Active, Judged: j.ActiveJudged}, healing.Score{Sum: j.Chronic, Judged: j.ChronicJudged})) + old
		return row
	}
	row.Size = areaText(j.AreaCM2, view.Yard.Mark) + old
	if j.GiveOrTake > 0 {
		row.Size += ", give or take " + areaText(j.GiveOrTake, view.Yard.Mark)
	}
	if j.FirstDay != 0 && j.FirstDay < j.Day {
		row.Size += "; was " + areaText(j.FirstCM2, view.Yard.Mark) + " on " + tracker.DayName(j.FirstDay)
	}
	if j.HasRate {
		row.Rate = perDay(j.Rate, view.Yard.Mark) + " (" + rateText(j.Low, view.Yard.Mark) + " to " + rateText(j.High, view.Yard.Mark) + "), " + tracker.Count(j.DaysUsed, "day") + " measured"
	}
	return row
}

// signNames are the signs of the last look that was no second reading, in a word or two each.
func signNames(looks []tracker.Check) string {
	for _, c := range slices.Backward(looks) {
		if c.Blind != "" || c.Outcome != tracker.Looked {
			continue
		}
		var out []string
		for _, sign := range append(append(tracker.ActiveSigns(), tracker.ChronicSigns()...), tracker.Thrush) {
			if level := c.Signs[sign]; level > 0 {
				out = append(out, fmt.Sprintf("%s %d", strings.ToLower(tracker.SignName(sign)), level))
			}
		}
		if c.Bed == tracker.BedAbove {
			out = append(out, "bed above the skin")
		}
		for _, d := range c.Dangers {
			out = append(out, strings.ToLower(tracker.DangerName(d)))
		}
		if smells(c) && !c.Has(tracker.SmellHeat) {
			out = append(out, "smell")
		}
		return strings.Join(out, ", ")
	}
	return ""
}

func whatWasDone(view care.SheetView) []string {
	since := max(view.From, firstDay(view))
	out := []string{fmt.Sprintf("Looked at on %d of the %s since %s.", view.Looked, tracker.Count(int(view.To-since)+1, "day"), tracker.DayName(since))}
	for _, leg := range tracker.Legs() {
		var acts []string
		for _, c := range view.Care {
			if c.Leg == leg {
				acts = append(acts, strings.ToLower(tracker.CareName(c.Act))+" "+tracker.Count(c.Times, "time"))
			}
		}
		if len(acts) > 0 {
			out = append(out, leg.String()+": "+strings.Join(acts, ", ")+".")
		}
	}
	return atMost(append(out, happened(view)...), 8)
}

// happened says what happened between the looks, once for all legs that it happened to alike.
func happened(view care.SheetView) []string {
	var order []string
	legs := map[string]map[tracker.Leg]bool{}
	for _, e := range view.Events {
		if e.Kind == tracker.SoakStarted || e.Day > view.To {
			continue
		}
		words := eventWords(e, view.To)
		if e.Note != "" && e.Kind != tracker.Joined && e.Kind != tracker.KindChange {
			words += ": " + strings.TrimRight(e.Note, ". ")
		}
		if legs[words] == nil {
			order, legs[words] = append(order, words), map[tracker.Leg]bool{}
		}
		legs[words][e.Leg] = true
	}
	for i, words := range order {
		var on []string
		for _, leg := range view.Horse.OrderIn(view.Yard) {
			if legs[words][leg] {
				on = append(on, leg.String())
			}
		}
		if order[i] = words + "."; len(on) > 0 {
			order[i] = strings.Join(on, ", ") + ": " + order[i]
		}
	}
	return order
}

func firstDay(view care.SheetView) tracker.Date {
	if view.Horse.Arrived != 0 {
		return view.Horse.Arrived
	}
	return tracker.DateOf(view.Horse.CreatedAt.In(view.Zone))
}

func vetsWord(view care.SheetView) []string {
	var out []string
	for _, p := range view.Word {
		said := p.Name + ", " + tracker.DayName(tracker.DateOf(p.At.In(view.Zone))) + ": "
		if p.Plan != "" {
			out = append(out, said+p.Plan)
		}
		if p.RingIf != "" {
			out = append(out, said+"ring if "+p.RingIf)
		}
	}
	return atMost(out, 4)
}

// fourPosts draws the horse from above; a label that no longer has a mark is left out.
func fourPosts(view care.SheetView) template.HTML {
	var posts []draw.Post
	for _, s := range view.Sites {
		if s.Site.Open() {
			post := draw.Post{Leg: s.Site.Leg, Tag: siteTag(s.Site)}
			if s.Judgement != nil {
				post.Label = s.Judgement.Label
			}
			posts = append(posts, post)
		}
	}
	plan, err := draw.FourPosts("sheet", "sheet-legs", posts)
	if err != nil {
		return ""
	}
	return plan
}
