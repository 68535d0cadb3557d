package web_test

import (
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leground/server/webtest"
	"leground/tracker/care"
	"leground/tracker/store/storetest/pgtest"
)

// attempts lists, for each route that takes ids of a yard's things, the posts and requests in which a
// stranger could name one. {horse} and so on stand for an id of the other yard, {my-horse} and so on for one
// of the asker's own.
var attempts = map[string][]attempt{
	"GET /caution/{caution}": {{path: "/caution/{caution}"}},
	"GET /check/{record}":    {{path: "/check/{record}"}, {path: "/check/{line}"}},
	"GET /horse/{horse}":     {{path: "/horse/{horse}"}, {path: "/horse/{horse}?to=2026-05-01"}},
	"GET /horse/{horse}/photos/{site}": {
		{path: "/horse/{horse}/photos/{site}"}, {path: "/horse/{my-horse}/photos/{site}"}, {path: "/horse/{horse}/photos/{my-site}"},
	},
	"GET /horse/{horse}/leg/{leg}": {{path: "/horse/{horse}/leg/LF"}},
	"GET /horse/{horse}/look":      {{path: "/horse/{horse}/look"}},
	"POST /horse/{horse}/look": {
		{path: "/horse/{horse}/look", fields: "record={new}&pulse=36"},
		{path: "/horse/{my-horse}/look", fields: "record={new}&pulse=36&looker={person}"},
		{path: "/horse/{my-horse}/look", fields: "record={new}&pulse=36&corrects={line}"},
	},
	"GET /horse/{horse}/trend":   {{path: "/horse/{horse}/trend"}, {path: "/horse/{horse}/trend?span=all&by=leg"}},
	"GET /horse/{horse}/vet":     {{path: "/horse/{horse}/vet"}, {path: "/horse/{horse}/vet?photo={photo}"}},
	"GET /horse/{horse}/vet.pdf": {{path: "/horse/{horse}/vet.pdf"}},
	"POST /horse/{horse}/vet/link": {
		{path: "/horse/{horse}/vet/link", fields: "ask=x"}, {path: "/horse/{my-horse}/vet/link", fields: "ask=x&photo={photo}"},
	},
	"POST /horse/{horse}/vet/word": {{path: "/horse/{horse}/vet/word", fields: "record={new}&name=Vet&plan=x"}},
	"POST /proposal/{record}":      {{path: "/proposal/{proposal}", fields: "answer=ended"}, {path: "/proposal/{proposal}", fields: "answer=declined"}},
	"POST /spread": {
		{path: "/spread", fields: "record={new}&site={site}&first={record}&length=40&width=20"},
		{path: "/spread", fields: "record={new}&site={my-site}&first={record}&length=40&width=20"},
	},
	"GET /rules/healing":          {{path: "/rules/healing?site={site}"}},
	"POST /rules/healing":         {{path: "/rules/healing", fields: "record={new}&site={site}&v.closing=0.2&word_of=Vet&why=x"}},
	"GET /photo/{photo}":          {{path: "/photo/{photo}"}},
	"GET /photo/{photo}/thumb":    {{path: "/photo/{photo}/thumb"}},
	"POST /caution/{caution}":     {{path: "/caution/{caution}", fields: "record={new}&kind=rang"}},
	"POST /conflicts/{conflict}":  {{path: "/conflicts/{conflict}"}},
	"POST /horse/{horse}":         {{path: "/horse/{horse}", fields: "name=Stolen&place=gone"}},
	"POST /links/{link}/stop":     {{path: "/links/{link}/stop"}},
	"POST /people/{person}/leave": {{path: "/people/{person}/leave"}},
	"POST /sessions/{session}/end": {
		{path: "/sessions/{session}/end"},
	},
	"POST /round/leg": {
		{path: "/round/leg", fields: "record={new}&horse={horse}&leg=LF&clear=1"},
		{path: "/round/leg", fields: "record={new}&horse={my-horse}&leg=LF&clear=1&looker={person}"},
		{path: "/round/leg", fields: "record={new}&horse={my-horse}&leg=LF&clear=1&corrects={line}"},
	},
	"POST /round/site": {
		{path: "/round/site", fields: "record={new}&site={site}&length=40&width=20&exudate=0&pain=0"},
		{path: "/round/site", fields: "record={new}&site={my-site}&length=40&width=20&exudate=0&pain=0&looker={person}"},
		{path: "/round/site", fields: "record={new}&site={my-site}&length=40&width=20&exudate=0&pain=0&corrects={record}"},
		{path: "/round/site", fields: "record={new}&site={site}&outcome=skipped&skip=no+time"},
	},
	"POST /round/undo": {{path: "/round/undo", fields: "record={new}&of={record}"}, {path: "/round/undo", fields: "record={new}&of={line}"}},
	"POST /photos":     {{path: "/photos", fields: "of={record}&photo_id={new}", photo: true}},
	"POST /sites":      {{path: "/sites", fields: "record={new}&horse={horse}&leg=LF&region=pastern&aspect=back&kind=wound"}},
	"POST /sites/change": {
		{path: "/sites/change", fields: "record={new}&site={site}&do=kind&kind=patch"},
		{path: "/sites/change", fields: "record={new}&site={site}&do=reopen"},
		{path: "/sites/change", fields: "record={new}&site={site}&do=join&into={my-site}"},
		{path: "/sites/change", fields: "record={new}&site={my-site}&do=join&into={site}"},
	},
	"GET /mix": {
		{path: "/mix?horse={horse}"}, {path: "/mix?stock=bottle:{bottle}"}, {path: "/mix?stock=mix:{mix}"},
		{path: "/mix?work=1&stock=bottle:{bottle}&says=bottle:{bottle}&want=0.05%25+w/v&make=500+mL&device=20+mL+syringe,+1+mL+marks"},
	},
	"GET /mix/sums": {
		{path: "/mix/sums?sum=pour&stock1=bottle:{bottle}"}, {path: "/mix/sums?sum=pour&stock2=mix:{mix}"}, {path: "/mix/sums?sum=recipe&stock1=bottle:{bottle}&amount1=25+mL&amount2=2+L&claim=0.05%25+w/v"},
		{path: "/mix/sums?sum=cream&product={product}&by=units&number=2"},
	},
	"POST /mix/sums": {{path: "/mix/sums", fields: "record={new}&sum=pour&shown=x&stock1=mix:{mix}&stock2=bottle:{bottle}"}, {path: "/mix/sums", fields: "record={new}&sum=pour&stock2=mix:{mix}"}},
	"POST /mix": {
		{path: "/mix", fields: "record={new}&stock=bottle:{bottle}&says=bottle:{bottle}&want=0.05% w/v&make=500 mL&device=20 mL syringe, 1 mL marks&choice=0"},
		{path: "/mix", fields: "record={new}&stock=mix:{mix}&says=mix:{mix}&want=0.01% w/v&make=100 mL&device=20 mL syringe, 1 mL marks&choice=0"},
		{path: "/mix", fields: "record={new}&horse={horse}&want=0.05% w/v&make=500 mL&choice=0"},
	},
	"GET /mix/{mix}":                 {{path: "/mix/{mix}"}},
	"POST /mix/{mix}":                {{path: "/mix/{mix}", fields: "record={new}&kind=thrown-away"}, {path: "/mix/{mix}", fields: "record={new}&kind=checked"}},
	"GET /stores/product/{product}":  {{path: "/stores/product/{product}"}},
	"POST /stores/product/{product}": {{path: "/stores/product/{product}", fields: "name=Stolen&gone=1"}},
	"GET /stores/bottle/{bottle}":    {{path: "/stores/bottle/{bottle}"}},
	"POST /stores/bottles":           {{path: "/stores/bottles", fields: "record={new}&product={product}&size=1 L&strength=2% w/v"}},
	"POST /stores/bottle/{bottle}": {
		{path: "/stores/bottle/{bottle}", fields: "record={new}&kind=doubted"}, {path: "/stores/bottle/{bottle}", fields: "record={new}&kind=used-up"},
		{path: "/stores/bottle/{bottle}", fields: "record={new}&kind=read&strength=2% w/v"},
	},
	"GET /horse/{horse}/plan":     {{path: "/horse/{horse}/plan"}},
	"GET /horse/{horse}/plan/new": {{path: "/horse/{horse}/plan/new"}},
	"GET /plan/{plan}":            {{path: "/plan/{plan}"}},
	"GET /plan/{plan}/change":     {{path: "/plan/{plan}/change"}},
	"POST /horse/{horse}/plan": {
		{path: "/horse/{horse}/plan", fields: "record={new}&whole=1&source=owner&s1_id={new}&s1_kind=walk&s1_p1_often=1&s1_p1_every=1&s1_p1_until=vet&do=look"},
		{path: "/horse/{horse}/plan", fields: "record={new}&whole=1&source=owner&s1_id={new}&s1_kind=walk&s1_p1_often=1&s1_p1_every=1&s1_p1_until=vet&do=keep"},
		{path: "/horse/{my-horse}/plan", fields: "record={new}&source=owner&site={site}&s1_id={new}&s1_kind=dry&s1_p1_often=1&s1_p1_every=1&s1_p1_until=vet&do=keep"},
		{path: "/horse/{my-horse}/plan", fields: "record={new}&whole=1&changes={plan}&source=owner&s1_id={new}&s1_kind=walk&s1_p1_often=1&s1_p1_every=1&s1_p1_until=vet&do=keep"},
	},
	"POST /plan/{plan}/read":          {{path: "/plan/{plan}/read", fields: "record={new}"}},
	"POST /plan/{plan}/confirm":       {{path: "/plan/{plan}/confirm", fields: "record={new}&kind=vet+by+phone&name=Dr+Furrow"}},
	"POST /plan/{plan}/stop":          {{path: "/plan/{plan}/stop", fields: "record={new}&why=nosy"}},
	"POST /due/tick":                  {{path: "/due/tick", fields: "record={new}&day=2026-05-14&slot=morning&item={item}"}},
	"POST /due/undo":                  {{path: "/due/undo", fields: "record={new}&of={tick}"}},
	"POST /due/once":                  {{path: "/due/once", fields: "record={new}&kind=vet&horse={horse}&day=2026-05-15"}},
	"POST /away":                      {{path: "/away", fields: "record={new}&horse={horse}&from=2026-05-15"}},
	"POST /away/{absence}/end":        {{path: "/away/{absence}/end", fields: "shown=2026-05-14"}},
	"GET /reminder/{reminder}":        {{path: "/reminder/{reminder}"}},
	"POST /reminder/{reminder}/again": {{path: "/reminder/{reminder}/again", fields: "x=1"}},
	"POST /reminders/test":            {{path: "/reminders/test", fields: "way={way}"}},
	"POST /reminders/drop":            {{path: "/reminders/drop", fields: "way={way}"}},
	"POST /reminders/webhook/prove":   {{path: "/reminders/webhook/prove", fields: "way={way}"}},
	"POST /events": {
		{path: "/events", fields: "record={new}&kind=vet-visit&horse={horse}"},
		{path: "/events", fields: "record={new}&kind=clipping&site={site}"},
	},
}

// takesNone are the routes that name nothing of a yard.
var takesNone = strings.Fields(`GET/vet GET/spread GET/rules/cautions POST/rules/cautions GET/v/{token} POST/v/{token} GET/v/{token}/sheet.pdf GET/v/{token}/photo/{photo} GET/v/{token}/photo/{photo}/thumb GET/ GET/conflicts GET/healthz GET/readyz GET/link/{token} GET/more GET/people GET/round GET/rules GET/horses GET/sign-in
	GET/manifest.webmanifest GET/no-signal GET/phone GET/phone/pages GET/round/paper GET/stores POST/stores/measures POST/stores/products GET/sw.js
	GET/due GET/due/week GET/static/{hash}/* POST/horses POST/light POST/link/{token} POST/people/invite POST/rules POST/sign-in POST/sign-out
	GET/message/{token}/on-it POST/message/{token}/on-it GET/message/{token}/later POST/message/{token}/later GET/message/{token}/stop
	POST/message/{token}/stop GET/calendar/{token} GET/reminders POST/reminders/press POST/reminders/skip GET/reminders/me POST/reminders/me
	POST/reminders/away POST/reminders/back POST/reminders/calendar POST/reminders/calendar/stop POST/reminders/webhook GET/push/key POST/push/subscribe
	GET/reminders/rules POST/reminders/rules POST/reminders/close POST/reminders/open`)

type attempt struct {
	path, fields string
	photo        bool
}

// fill puts ids in place of their names.
func fill(text string, ids map[string]string) string {
	for name, id := range ids {
		text = strings.ReplaceAll(text, "{"+name+"}", id)
	}
	return strings.ReplaceAll(text, "{new}", care.NewID())
}

func (a attempt) by(p *webtest.Person, ids map[string]string) *webtest.Page {
	p.TB.Helper()
	path := fill(a.path, ids)
	if left := path + fill(a.fields, ids); strings.Contains(left, "{") {
		p.TB.Fatalf("nothing stands for an id in %s", left)
	}
	if a.fields == "" && !strings.HasSuffix(path, "/stop") && !strings.HasSuffix(path, "/end") && !strings.HasSuffix(path, "/leave") && !strings.HasPrefix(path, "/conflicts/") {
		return p.Get(path)
	}
	form := webtest.Form{Action: path, Values: webtest.Values(strings.Split(fill(a.fields, ids), "&")...)}
	if a.photo {
		form.Enctype = "multipart/form-data"
		form = form.WithFile("photo", picture(p.TB, 40, 30))
	}
	return p.Send(form)
}

// used gives a yard in which there is one of everything that has an id, and the ids.
func used(t *testing.T, site *webtest.Site) (*webtest.Yard, map[string]string) {
	t.Helper()
	yard := site.Marl()
	ids := map[string]string{"horse": string(yard.Bramble), "site": string(yard.Wound)}
	card := yard.Carer.Card(yard.Wound).With("length", "42").With("width", "25").With("exudate", "1").With("pain", "1").
		With("danger", "maggots").WithFile("photo", picture(t, 64, 48))
	yard.Carer.Send(card).Redirects("/round?saved=")
	ids["record"] = card.Values.Get("record")
	yard.Carer.Send(card.With("note", "another answer")).Is(409)
	line := yard.Carer.Line(yard.Bramble, "LF").With("clear", "1")
	yard.Carer.Send(line).Redirects("/round?saved=")
	ids["line"] = line.Values.Get("record")
	yard.Owner.Send(yard.Owner.Get("/people").Form("/people/invite").With("note", "Farrier")).Is(200)
	ids["product"], ids["bottle"] = concentrate(yard, "2% w/v")
	ids["mix"] = mixes(yard.Carer, ids["bottle"], "0.05% w/v", "500 mL")
	planned(yard, ids)
	word := yard.Owner.Get("/horse/" + ids["horse"] + "/vet").Form("/horse/" + ids["horse"] + "/vet/word")
	yard.Owner.Send(word.With("name", "Marl vets").With("plan", "Wash.")).Redirects("/horse/")
	yard.Owner.Send(yard.Owner.Get("/reminders/me").Form("/reminders/webhook").With("address", "https://hooks.example/leground")).Is(200)
	yard.Owner.Post("/reminders/test", webtest.Values("way=email")).Is(200)
	ids["way"] = regexp.MustCompile("webhook " + anID.String()).FindString(strings.Join(site.Dump()["way"], "\n"))
	for name, column := range map[string]string{"reminder": "reminder.reminder_id", "proposal": "proposal.record_id", "photo": "photo.photo_id", "caution": "caution.caution_id", "conflict": "conflict.conflict_id"} {
		table, column, _ := strings.Cut(column, ".")
		rows := site.Rows(table, column)
		if len(rows) == 0 {
			t.Fatalf("there is no %s to try", name)
		}
		ids[name] = rows[0]
	}
	for action := range actions(yard.Owner.Get("/people")) {
		for pattern, name := range map[string]string{`^/people/(\S+)/leave$`: "person", `^/links/(\S+)/stop$`: "link"} {
			if m := regexp.MustCompile(pattern).FindStringSubmatch(action); m != nil {
				ids[name] = m[1]
			}
		}
	}
	for _, row := range site.Dump()["session"] {
		if strings.Contains(row, "person_id="+ids["person"]+" ") {
			ids["session"] = regexp.MustCompile(`session_id=(\S+)`).FindStringSubmatch(row)[1]
		}
	}
	return yard, ids
}

// actions is the set of places that a page's forms post to.
func actions(page *webtest.Page) map[string]bool {
	out := map[string]bool{}
	for _, f := range page.Forms() {
		out[f.Action] = true
	}
	return out
}

var anID = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)

// Nobody of another yard, and nobody at all, learns or changes anything by naming a yard's things: the
// answer is the one for an id that nobody has, and not one row of the database changes.
func TestIsolation(t *testing.T) {
	for name, where := range map[string]func(testing.TB) string{"SQLite": func(testing.TB) string { return "" }, "PostgreSQL": pgtest.URL} {
		t.Run(name, func(t *testing.T) { isolation(t, webtest.Start(t, webtest.Options{Where: where(t)})) })
	}
}

func isolation(t *testing.T, site *webtest.Site) {
	_, theirs := used(t, site)
	owner := site.OpenYard("Far Yard", "Cy")
	carer := owner.Invites("Dot", "carer")
	mine := map[string]string{"my-horse": string(owner.TakesIn("Pebble"))}
	mine["my-site"] = string(owner.Finds(owner.TakesIn("Slate"), "LF", "wound", "pastern", "back"))
	random := map[string]string{}
	for name := range theirs {
		random[name] = care.NewID()
	}
	for name, id := range mine {
		theirs[name], random[name] = id, id
	}
	if err := site.Care.Tick(t.Context()); err != nil { // so that the worker finds nothing to do meanwhile
		t.Fatal(err)
	}
	before := site.Dump()
	tried := 0
	for _, r := range routeList(t) {
		list, known := attempts[r.method+" "+r.path]
		if !known {
			if !strings.Contains(" "+strings.Join(takesNone, " ")+" ", " "+r.method+r.path+" ") {
				t.Errorf("%s %s: say in attempts how a stranger could name something of a yard there, or in takesNone that nobody can", r.method, r.path)
			}
			continue
		}
		for _, a := range list {
			for who, p := range map[string]*webtest.Person{"owner": owner, "carer": carer} {
				tried++
				got, unknown := a.by(p, theirs), a.by(p, random)
				want := 404
				if r.role == "owners" && who == "carer" {
					want = 403
				}
				if got.Status != want {
					t.Errorf("%s %s %s as a %s of another yard answers %d, want %d:\n%s", r.method, a.path, a.fields, who, got.Status, want, got.Text())
				}
				if blank(got) != blank(unknown) {
					t.Errorf("%s %s %s as a %s of another yard: a taken id answers unlike a free one:\n%s", r.method, a.path, a.fields, who, cmp.Diff(blank(unknown), blank(got)))
				}
			}
			got := a.by(site.Nobody(), theirs)
			if r.method == "GET" {
				got.Redirects("/sign-in")
			} else if got.Status != 401 {
				t.Errorf("%s %s signed out answers %d, want 401", r.method, a.path, got.Status)
			}
		}
	}
	if diff := cmp.Diff(before, site.Dump()); diff != "" {
		t.Errorf("%d attempts changed the database:\n%s", 3*tried, diff)
	}
	if tried < 2*len(attempts) {
		t.Errorf("only %d attempts for %d routes", tried, len(attempts))
	}
}

func blank(p *webtest.Page) string { return anID.ReplaceAllString(string(p.Body), "ID") }

// A carer may not do what is the owner's, and nothing changes.
func TestCarersStayCarers(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard, ids := used(t, site)
	before := site.Dump()
	for _, r := range routeList(t) {
		if r.role != "owners" {
			continue
		}
		try := attempt{path: r.path, fields: "role=owner&yard=Mine&zone=Europe/London&order=LF+RF+RH+LH"}
		if r.method == "GET" {
			try.fields = ""
		}
		page := try.by(yard.Carer, ids)
		if page.Status != 403 {
			t.Errorf("%s %s as a carer answers %d, want 403", r.method, r.path, page.Status)
		}
	}
	if diff := cmp.Diff(before, site.Dump()); diff != "" {
		t.Errorf("a carer changed what is the owner's:\n%s", diff)
	}
	yard.Carer.Get("/rules").Is(200).Silent("Keep these rules")
	yard.Carer.Get("/people").Is(200).Silent("Make an invitation", "Leaves the yard")
}

// An id that is taken in another yard is free here: records of two yards never meet.
func TestRecordIDsOfAnotherYardAreFree(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	_, theirs := used(t, site)
	owner := site.OpenYard("Far Yard", "Cy")
	horse := owner.TakesIn("Pebble")
	wound := owner.Finds(horse, "LF", "wound", "pastern", "back")
	owner.Send(owner.Card(wound).With("record", theirs["record"]).With("length", "30").With("width", "20").With("exudate", "0").With("pain", "0")).Redirects("/round?saved=")
	owner.Send(owner.Line(horse, "RF").With("record", theirs["line"]).With("clear", "1")).Redirects("/round?saved=")
	owner.Post("/horses", webtest.Values("id="+theirs["horse"], "name=Same")).Redirects("/horse/")
	owner.Get("/conflicts").Is(200).Says("Nothing needs a look.")
	owner.Get("/horse/" + theirs["horse"]).Is(200).Says("Same").Silent("Bramble")
}
