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
	page := owner.Get(hot).Says("Since then: Temperature 40.2 °C on", "Temperature 41 °C on")
	if say := page.Root().Named("ol")[0].Text(); !strings.Contains(say, "Temperature 39.3") || !strings.Contains(say, "Temperature 40.2") {
		t.Errorf("what to say: %s", say)
	}
	if n := count(site, "caution"); n != 2 {
		t.Errorf("%d cautions, want one of a hot and one of a cold horse", n)
	}
}
