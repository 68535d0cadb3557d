// Package offlinetest tries the round with no signal: a real Chromium with its real service worker and
// database, and a link between it and the server that is cut outside the browser. A phone here is a
// browser with a profile of its own, which can be killed like a phone whose battery is taken out and
// started again with everything that was on its disk.
//
//	site := webtest.Start(t, webtest.Options{})
//	link := NewLink(t, site.URL)
//	phone := NewPhone(t, link)
//	phone.SignIn(yard.Owner)
//	phone.Open("/round")
//	link.Cut(Refuse)
package offlinetest
