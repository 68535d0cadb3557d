package web_test

import (
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
)

// cautionOf gives the page of the newest caution of a rule.
func cautionOf(t *testing.T, site *webtest.Site, rule string) string {
	t.Helper()
	found := ""
	for _, row := range site.Dump()["caution"] {
		if strings.Contains(row, "rule="+rule+" ") {
			found = "/caution/" + anID.FindString(row[strings.Index(row, "caution_id="):])
		}
	}
	if found == "" {
		t.Fatalf("no caution of the rule %s:\n%s", rule, strings.Join(site.Dump()["caution"], "\n"))
	}
	return found
}

// Whoever rings reads out the number of now, not that of the first look, wherever they stand; the first stays beside it,
// and a hot horse is no news about a cold one. The limits are those of tracker/cautions.
func TestNewerNumbersStandBesideTheFirst(t *testing.T) {
	site, owner, horse := wholeYard(t)
	takes := func(temperature string) {
		owner.Send(owner.Get(horse+"/look").Form(horse+"/look").With("temperature", temperature)).Redirects(horse)
		site.Clock.Add(20 * time.Minute)
	}
	takes("39.3")
	told := count(site, "reminder")
	takes("41")
	if now := count(site, "reminder"); told == 0 || now != told {
		t.Errorf("%d messages after the first reading, %d after the second", told, now)
	}
	takes("36.6")
	for _, path := range []string{"/", "/vet", "/round", horse} {
		owner.Get(path).Says("Temperature 39.3 °C on", "Since then: Temperature 41 °C on", "Temperature 36.6 °C on")
	}
	hot := cautionOf(t, site, "temperature-now")
	takes("40.2")
	page := owner.Get(hot).Says("Since then: Temperature 41 °C on", "Temperature 40.2 °C on")
	say := page.Root().Named("ol")[0].Text()
	for _, number := range []string{"39.3", "41", "40.2"} {
		if !strings.Contains(say, "Temperature "+number) {
			t.Errorf("what to say has no %s: %s", number, say)
		}
	}
	if n := count(site, "caution"); n != 2 {
		t.Errorf("%d cautions, want one of a hot and one of a cold horse", n)
	}
}

// A promise to ring reaches a little way: a time of day that is past is refused and stays in its field, with the note;
// one after midnight is kept, and says its day wherever it stands. Source: common practice, no source.
func TestAPromiseReachesALittleWay(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	no(t, err)
	for _, c := range []struct{ temperature, rule, now, late, early, says string }{
		{"39.3", "temperature-now", "06:03", "05:00", "10:03", "Ada will ring at 10:03."},
		{"39.3", "temperature-now", "23:50", "03:51", "00:30", "Ada will ring at 00:30 on Mon 6 Apr."},
		{"38.7", "temperature-today", "06:03", "05:00", "22:03", "Ada will ring at 22:03."},
		{"38.7", "temperature-today", "20:00", "12:01", "08:30", "Ada will ring at 08:30 on Mon 6 Apr."},
	} {
		site, owner, horse := wholeYard(t)
		now, err := time.ParseInLocation("2006-01-02 15:04", "2026-04-05 "+c.now, london)
		no(t, err)
		site.Clock.Set(now)
		owner.Send(owner.Get(horse+"/look").Form(horse+"/look").With("temperature", c.temperature)).Redirects(horse)
		caution := cautionOf(t, site, c.rule)
		form := owner.Get(caution).Form(caution).With("kind", "will-ring").With("note", "after feeding")
		page := owner.Send(form.With("until", c.late)).Is(422).Says("The time to ring must be within the next")
		if again := page.Form(caution); again.Values.Get("until") != c.late || again.Values.Get("note") != "after feeding" {
			t.Errorf("%s: what was typed is gone: %v", c.late, again.Values)
		}
		owner.Get("/").Says("Ring the vet").Silent("will ring")
		owner.Send(form.With("until", c.early)).Redirects("/")
		for _, path := range []string{"/", "/vet", caution} {
			owner.Get(path).Says(c.says)
		}
	}
}
