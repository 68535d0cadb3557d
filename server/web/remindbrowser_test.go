package web_test

import (
	"strings"
	"testing"
	"time"

	"leground/notify/notifytest"
	"leground/server/webtest"
)

// Every page of reminders, with what each of them can show, at two widths: nothing that axe-core finds, nothing
// wider than the screen, and controls as large as their density asks for.
func TestReminderPagesInABrowser(t *testing.T) {
	service, guard := startPhones(t)
	site, yard, box := mailed(t, webtest.Options{Guard: guard})
	phone, err := notifytest.NewPhone("", "")
	if err != nil {
		t.Fatal(err)
	}
	yard.Owner.Post("/push/subscribe", webtest.Values("subscription="+phone.Subscription(service.URL+"/send/1"))).Redirects("/reminders/me")
	yard.Owner.Send(yard.Owner.Get("/reminders/me").Form("/reminders/webhook").With("address", "https://hooks.example/leground")).Is(200)
	yard.Owner.Send(yard.Owner.Get("/reminders/me").Form("/reminders/away").With("from", "2026-06-01").With("to", "2026-06-07")).Redirects("/reminders/me")
	yard.Owner.Send(yard.Owner.Get("/reminders/me").Form("/reminders/calendar")).Is(200)
	yard.Owner.Send(yard.Owner.Get("/reminders/rules").Form("/reminders/close").With("from", "2026-06-01").With("to", "2026-06-02").With("why", "a show")).Redirects("/reminders/rules")
	service.status = 410 // the phone goes, mail takes over
	box.Fail(notifytest.Fault{At: notifytest.AtRcpt, Do: notifytest.Refuse, Reply: "451 4.7.1 try later", Times: 1})
	for range 3 {
		site.Clock.Add(5 * time.Minute)
		site.Run()
	}
	service.status = 201
	yard.Owner.Post("/push/subscribe", webtest.Values("subscription="+phone.Subscription(service.URL+"/send/2"))).Redirects("/reminders/me")
	paths := links(t, box.Mails()[0])
	var message string
	for _, n := range yard.Owner.Get("/reminders?state=sent").Root().All(func(n *webtest.Node) bool { return strings.HasPrefix(n.Attr["href"], "/reminder/") }) {
		message = n.Attr["href"]
	}
	tab := webtest.StartChromium(t).Tab(t, site, 360, 740)
	tab.SignIn(yard.Owner)
	for _, width := range []int64{360, 1280} {
		for name, path := range map[string]string{"reminders": "/reminders", "reminder": message, "remind-me": "/reminders/me", "remind-rules": "/reminders/rules",
			"on-it": paths["on-it"], "later": paths["later"], "stop": paths["stop"], "board-reminded": "/"} {
			tab.Resize(width, 800)
			tab.Open(path)
			lookAt(t, tab, name, width)
		}
		tab.Open("/reminders/me")
		tab.Click(`form[action="/reminders/test"] button`)
		lookAt(t, tab, "remind-test", width)
		tab.Open("/reminders/me")
		webtest.Eval[string](tab, `document.getElementById("alarm").value = "soon"`)
		tab.Click(`form[action="/reminders/me"] .main-bar`)
		lookAt(t, tab, "remind-error", width)
	}
	tab.SignIn(yard.Carer)
	tab.Open("/reminders/rules")
	lookAt(t, tab, "remind-rules-carer", 360)
}
