package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"leground/server/webtest"
)

// mistake is one way in which a person without scripts gets a form wrong.
type mistake struct {
	name   string
	form   func(*webtest.Yard) webtest.Form
	change map[string]string // "" takes the field out
	says   []string          // in the summary
	field  string            // beside which the words stand too; empty: none
}

func card(y *webtest.Yard) webtest.Form  { return y.Carer.Card(y.Wound) }
func patch(y *webtest.Yard) webtest.Form { return y.Carer.Card(y.Patch) }
func line(y *webtest.Yard) webtest.Form  { return y.Carer.Line(y.Bramble, "LF") }
func adder(y *webtest.Yard) webtest.Form {
	return y.Carer.Get("/round").Form("/sites", "horse="+string(y.Bramble), "leg=LF")
}
func horse(y *webtest.Yard) webtest.Form {
	path := "/horse/" + string(y.Bramble)
	return y.Carer.Get(path).Form(path)
}
func whole(y *webtest.Yard) webtest.Form {
	path := "/horse/" + string(y.Bramble) + "/look"
	return y.Carer.Get(path).Form(path)
}
func rules(y *webtest.Yard) webtest.Form { return y.Owner.Get("/rules").Form("/rules") }
func happen(y *webtest.Yard) webtest.Form {
	return y.Carer.Get("/horse/" + string(y.Bramble)).Form("/events")
}

var mistakes = []mistake{
	{"no size", card, map[string]string{"exudate": "0", "note": "dry & quiet"}, []string{"Enter the size, or say why there is none"}, "size"},
	{"a size too long", card, map[string]string{"length": "401", "width": "20", "exudate": "2"}, []string{"Longest way must be a whole number from 1 to 400, like 42."}, "length"},
	{"a size of nothing", card, map[string]string{"length": "0", "width": "20", "exudate": "0"}, []string{"Longest way must be a whole number"}, "length"},
	{"a size in words", card, map[string]string{"length": "4o", "width": "20", "exudate": "0"}, []string{"Longest way must be a whole number, like 42."}, "length"},
	{"a size with a decimal", card, map[string]string{"length": "42.5", "width": "20", "exudate": "0"}, []string{"Longest way must be a whole number, like 42."}, "length"},
	{"a size and could not measure", card, map[string]string{"length": "20", "width": "10", "size": "could-not", "exudate": "0"}, []string{"A size is typed and another answer is chosen too."}, "size"},
	{"one length", card, map[string]string{"length": "20", "exudate": "0"}, []string{"Across that must be a whole number from 1 to 400"}, "width"},
	{"no signs", card, map[string]string{"length": "40", "width": "20", "bed": "flush"}, []string{"Score what you see, or say that you did not check."}, "signs"},
	{"a sign that is none", card, map[string]string{"length": "40", "width": "20", "exudate": "7"}, []string{"7 is not one of the choices"}, "exudate"},
	{"paper from the future", card, map[string]string{"length": "40", "width": "20", "exudate": "0", "written_at": "2026-05-15T07:40"}, []string{"The time on the paper cannot be later than now."}, "written_at"},
	{"paper of another year", card, map[string]string{"length": "40", "width": "20", "exudate": "0", "written_at": "2025-05-14T07:40"}, []string{"more than 90 days ago. Is the year right?"}, "written_at"},
	{"closed over and wet", card, map[string]string{"size": "closed", "exudate": "1"}, []string{"no open skin is left, but something comes out of it"}, "size"},
	{"paper without a time", card, map[string]string{"length": "40", "width": "20", "exudate": "0", "written_at": "yesterday"}, []string{"must be a day and time, like"}, "written_at"},
	{"skipped without a reason", card, map[string]string{"outcome": "skipped", "skip": " "}, []string{"Say why it was not looked at"}, "skip"},
	{"a note too long", card, map[string]string{"length": "40", "width": "20", "exudate": "0", "note": strings.Repeat("n", 2001)}, []string{"000 letters."}, "note"},
	{"nothing on a patch", patch, map[string]string{"note": "as before"}, []string{"Enter the size", "Score what you see"}, "signs"},
	{"nothing on a leg", line, map[string]string{"note": "as before"}, []string{"Say what you found"}, "signs"},
	{"a leg skipped without a reason", line, map[string]string{"outcome": "skipped"}, []string{"Say why it was not looked at"}, "skip"},
	{"a site of no kind", adder, map[string]string{"kind": "", "onset": "2026-05-01"}, []string{"Say whether it is a wound with an edge or a patch of sore skin."}, "kind"},
	{"a site in two places", adder, map[string]string{"kind": "wound", "region": "pastern", "aspect": "ground"}, []string{"Only the ground surface of the foot has an underneath: choose another side."}, "region"},
	{"a site from tomorrow", adder, map[string]string{"kind": "wound", "onset": "2026-05-15"}, []string{"The day it happened cannot be after today."}, "onset"},
	{"a horse without a name", func(y *webtest.Yard) webtest.Form { return y.Carer.Get("/horses").Form("/horses") }, map[string]string{"name": " ", "sort": "grey cob"}, []string{"The horse's name must have 1 to 80 letters on one line."}, "name"},
	{"a horse from no day", func(y *webtest.Yard) webtest.Form { return y.Carer.Get("/horses").Form("/horses") }, map[string]string{"name": "Fern", "arrived": "31/12/2025"}, []string{"The day it came must be a date, like 2026-05-14."}, "arrived"},
	{"a horse from tomorrow", horse, map[string]string{"arrived": "2026-05-15"}, []string{"The day it came cannot be after today."}, "arrived"},
	{"a tetanus dose from tomorrow", horse, map[string]string{"tetanus": "2026-05-15"}, []string{"The last tetanus dose cannot be after today."}, "tetanus"},
	{"isolated before it came", horse, map[string]string{"arrived": "2026-05-14", "isolated_until": "2026-05-13"}, []string{"Isolation cannot end before the horse came."}, "isolated_until"},
	{"a pulse of nothing", whole, map[string]string{"pulse": "0", "temperature": "38"}, []string{"This cannot be 0."}, "pulse"},
	{"an order without a reason", horse, map[string]string{"order": "LF RF LH RH", "handling": "kicks"}, []string{"Say why this horse has its own order"}, "order_reason"},
	{"an order of three legs", horse, map[string]string{"order": "LF RF LH", "handling": "kicks"}, []string{"must name LF, RF, RH and LH once each"}, "order"},
	{"a yard of no zone", rules, map[string]string{"zone": "Marlpit", "ring_name": "New vets"}, []string{"The time zone must be a name like Europe/London."}, "zone"},
	{"a yard of no zone and no order", rules, map[string]string{"zone": "Marlpit", "order": "LF"}, []string{"The time zone must be", "The walking order must name"}, "order"},
	{"a yard of no order", rules, map[string]string{"order": "LF LF RH LH", "leg_words": "near"}, []string{"The walking order must name LF, RF, RH and LH once each"}, "order"},
	{"a round at no time", rules, map[string]string{"slot1_at": "seven", "size_every": "2"}, []string{"Each round needs a time of day, like 07:00."}, "slots"},
	{"two rounds of one name", rules, map[string]string{"slot2_name": "morning"}, []string{"Each round needs one short name of its own"}, "slots"},
	{"sizes every three weeks", rules, map[string]string{"size_every": "21"}, []string{"Sizes must be planned every 1 to 14 days, like 1."}, "size_every"},
	{"a number to ring too long", rules, map[string]string{"ring_number": strings.Repeat("0", 41)}, []string{"must fit in 80 and 40 letters"}, "ring_number"},
	{"something happened tomorrow", happen, map[string]string{"kind": "treatment-change", "day": "2026-05-15", "note": "bloods taken"}, []string{"What happened cannot be on a day after today."}, "day"},
	{"a visit in years", happen, map[string]string{"kind": "vet-visit", "day": "2028-05-15", "note": "x"}, []string{"A visit can be noted up to a year ahead."}, "day"},
	{"something happened on no day", happen, map[string]string{"kind": "vet-visit", "day": "today", "note": "bloods taken"}, []string{"The day must be a date, like 2026-05-14."}, "day"},
}

// Without scripts every form that can be got wrong says so: a status that no cache keeps, a title that
// begins with Error, a summary that leads to each field, the words beside the field, everything that was
// typed still there, and nothing kept. The form that comes back can be put right and sent.
func TestFormsSayWhatIsWrong(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	if err := site.Care.Tick(t.Context()); err != nil {
		t.Fatal(err)
	}
	before := fmt.Sprint(site.Dump())
	for _, m := range mistakes {
		t.Run(m.name, func(t *testing.T) {
			form := m.form(&webtest.Yard{Owner: yard.Owner.In(t), Carer: yard.Carer.In(t), Bramble: yard.Bramble, Wound: yard.Wound, Patch: yard.Patch})
			person := yard.Carer.In(t) // who opened the form
			if form.Action == "/rules" {
				person = yard.Owner.In(t)
			}
			for name, value := range m.change {
				form = form.With(name, value)
				if value == "" {
					form = form.With(name)
				}
			}
			page := person.Send(form).Is(422).Says(m.says...)
			title := page.Root().Named("title")[0].Text()
			if !strings.HasPrefix(title, "Error:") {
				t.Errorf("the title is %q, want one that begins with Error:", title)
			}
			summary(t, page, m.field)
			kept(t, page, form)
		})
	}
	if after := fmt.Sprint(site.Dump()); after != before {
		t.Error("a form with a mistake changed something")
	}
}

// What is said of one mistake does not drag in others that are none.
func TestOneMistakeIsSaidOnce(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	for name, form := range map[string]webtest.Form{
		"a length below nothing":       card(yard).With("length", "-5").With("width", "4").With("exudate", "0"),
		"a size and the same":          card(yard).With("length", "24").With("width", "18").With("size", "same").With("exudate", "0"),
		"a pulse that cannot be":       whole(yard).With("pulse", "300"),
		"a pulse that is no number":    whole(yard).With("pulse", "fast"),
		"a condition score of nothing": whole(yard).With("condition", "0"),
	} {
		if wrong := yard.Carer.Send(form).Is(422).Root().Classed("errors")[0].Named("a"); len(wrong) != 1 {
			t.Errorf("%s: %d mistakes are said: %s", name, len(wrong), wrong[0].Text())
		}
	}
	yard.Carer.Send(card(yard).With("length", "24 mm").With("width", "18mm").With("exudate", "0")).Redirects("/round") // a unit that fits is no mistake
}

// summary looks for the list at the top with a link to each mistake, and for the words beside the field.
func summary(t *testing.T, page *webtest.Page, field string) {
	t.Helper()
	boxes := page.Root().Classed("errors")
	if len(boxes) != 1 || boxes[0].Attr["role"] != "alert" {
		t.Fatalf("there are %d summaries of what is wrong, want 1 that is an alert", len(boxes))
	}
	led := map[string]bool{}
	for _, a := range boxes[0].Named("a") {
		id := strings.TrimPrefix(a.Attr["href"], "#")
		led[id] = true
		to := page.Root().ID(id)
		if to == nil {
			t.Errorf("the summary leads to #%s, which is not on the page", id)
		} else if a.Text() != to.Text() {
			t.Errorf("the summary says %q and the field %q", a.Text(), to.Text())
		}
	}
	if field != "" && !led["wrong-"+field] {
		t.Errorf("the summary does not lead to what is wrong with %s: %s", field, boxes[0].Text())
	}
}

// kept looks for everything that was typed or chosen, in the form with the same record id.
func kept(t *testing.T, page *webtest.Page, sent webtest.Form) {
	t.Helper()
	for _, f := range page.Forms() {
		if f.Action != sent.Action || f.Values.Get("record") != sent.Values.Get("record") {
			continue
		}
		for name, values := range sent.Values {
			if name == "outcome" || name == "photo_id" || name == "password" || name == "same" && f.Values[name] == nil {
				continue // the button that was pressed, or the id of a photo that is chosen anew
			}
			offered := len(f.Node.All(func(e *webtest.Node) bool { return e.Attr["name"] == name && e.Attr["value"] == values[0] })) > 0
			typed := len(f.Node.All(func(e *webtest.Node) bool {
				return e.Attr["name"] == name && e.Attr["type"] != "radio" && e.Attr["type"] != "checkbox"
			})) > 0
			if !offered && !typed {
				continue // a choice that the form does not have
			}
			if got := f.Values[name]; strings.TrimSpace(strings.Join(got, "|")) != strings.TrimSpace(strings.Join(values, "|")) {
				t.Errorf("%s was %q and is %q in the form that came back", name, values, got)
			}
		}
		return
	}
	t.Errorf("the form to %s did not come back", sent.Action)
}

// A form that came back with a mistake is put right and sent: the record has the id of the first try.
func TestAMistakePutRight(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	form := card(yard).With("width", "25").With("exudate", "0").With("note", "dry")
	again := yard.Carer.Send(form).Is(422).Form("/round/site").With("length", "42")
	yard.Carer.Send(again).Redirects("/round?saved=" + form.Values.Get("record"))
	yard.Owner.Get("/check/"+form.Values.Get("record")).Is(200).Says("42 x 25 mm", "dry")
}

// Every form on every page, sent by somebody without scripts who gets it right, ends in a redirect that a
// reload does not send again.
func TestEveryFormEndsInARedirect(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Carer.Looks(yard.Wound, "42", "25", "danger=maggots")
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "LF").With("clear", "1")).Redirects("/round?saved=")
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 1))
	caution := site.Rows("caution", "caution_id")[0]
	record := site.Rows("leg_check", "record_id")[0]
	tried := map[string]int{}
	for _, path := range []string{"/", "/round", "/horses", "/horse/" + string(yard.Bramble), "/caution/" + caution, "/check/" + record, "/people", "/rules", "/more", "/conflicts"} {
		for i := range yard.Owner.Get(path).Is(200).Forms() {
			forms := yard.Owner.Get(path).Forms()
			if i >= len(forms) {
				continue // an earlier form of the page took a form away
			}
			form := forms[i]
			route := anID.ReplaceAllString(form.Action, "ID")
			if _, hidden := form.Node.Attr["hidden"]; hidden {
				continue // the round's script fills it in
			}
			if route == "/sign-out" || route == "/people/ID/leave" || tried[route] > 3 {
				continue
			}
			tried[route]++
			page := yard.Owner.Send(right(form))
			if page.Status != 303 && route != "/people/invite" {
				t.Errorf("the form to %s on %s answers %d:\n%s", route, path, page.Status, page.Text())
			}
		}
	}
	for _, route := range strings.Fields("/light /round/leg /round/site /round/undo /sites /sites/change /events /horses /horse/ID /caution/ID /people/invite /rules") {
		if tried[route] == 0 {
			t.Errorf("no page had a form to %s", route)
		}
	}
}

// right fills in what a form needs.
func right(f webtest.Form) webtest.Form {
	switch route := anID.ReplaceAllString(f.Action, "ID"); route {
	case "/round/leg":
		return f.With("clear", "1")
	case "/round/site":
		return f.With("length", "40").With("width", "20").With("size").With("exudate", "0").With("pain", "0").With("crust", "1")
	case "/sites":
		return f.With("kind", "patch")
	case "/sites/change":
		if f.Values.Get("into") != "" {
			return f.With("do", "join")
		}
		return f.With("do", "kind")
	case "/horses":
		return f.With("name", "Fern")
	case "/caution/ID":
		return f.With("kind", "rang")
	}
	return f
}

// Whoever has an account is told of a wrong password on the invitation, with the rest kept.
func TestLinkFormsKeepWhatWasTyped(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	path := site.SetUpLink()
	p := site.Nobody()
	form := p.Get(path).Form(path).With("yard", "Marlpit Yard").With("zone", "London").With("order", "LF RF RH").With("leg_words", "near").With("mark", "comma").
		With("name", "Ada").With("email", "ada").With("password", "short")
	page := p.Send(form).Is(422).Says("The time zone must be a name like Europe/London.", "The e-mail address must look like ada@example.org.")
	summary(t, page, "zone")
	summary(t, page, "order")
	summary(t, page, "email")
	summary(t, page, "password")
	kept(t, page, form)
	if got := page.Form(path).Values.Get("password"); got != "" {
		t.Errorf("the password came back in the page: %q", got)
	}
	good := page.Form(path).With("zone", "Europe/London").With("email", "ada@marlpit.example").With("password", webtest.Password).With("order", "LF RF RH LH")
	p.Send(good).Redirects("/")
	p.Get("/rules").Says("near and off (near is left)")
	yard := p.Get("/people").Form("/people/invite").With("note", "Bea")
	invitation := p.Send(yard).Is(200).Link()
	guest := site.Nobody()
	wrong := guest.Send(guest.Get(invitation).Form(invitation).With("name", "Ada").With("email", "ada@marlpit.example").With("password", "not the password at all")).Is(422)
	wrong.Says("This address has an account already: give its password to join with it.")
	guest.Get(invitation).Is(200) // the invitation is not used up by a mistake
}

// Somebody who left may be invited again, and somebody who is here already is told so.
func TestInvitedAgain(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	var leave string
	for action := range actions(yard.Owner.Get("/people")) {
		if strings.HasSuffix(action, "/leave") {
			leave = action
		}
	}
	yard.Owner.Post(leave, url.Values{}).Redirects("/people")
	yard.Carer.Get("/").Redirects("/sign-in")
	signIn(yard.Carer, yard.Carer.Email, webtest.Password).Is(422)
	again := site.Nobody()
	path := yard.Owner.Send(yard.Owner.Get("/people").Form("/people/invite")).Is(200).Link()
	again.Send(again.Get(path).Form(path).With("name", "Bea").With("email", yard.Carer.Email).With("password", webtest.Password)).Redirects("/")
	again.Get("/").Is(200).Says("Bramble")
	path = yard.Owner.Send(yard.Owner.Get("/people").Form("/people/invite")).Is(200).Link()
	again.Send(again.Get(path).Form(path).With("name", "Bea").With("email", yard.Carer.Email).With("password", webtest.Password)).
		Is(422).Says("You are in this yard already. The link still works for somebody else.")
	again.Get("/").Is(200).Says("Bramble")
	site.Nobody().Get(path).Is(200)
}

func signIn(p *webtest.Person, email, password string) *webtest.Page {
	p.TB.Helper()
	return p.Post("/sign-in", webtest.Values("email="+email, "password="+password, "to=/round"))
}
