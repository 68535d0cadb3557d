package cautions

import (
	"slices"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

var morning = time.Date(2026, 5, 14, 7, 40, 0, 0, time.UTC)

func check(id string, at time.Time) tracker.Check {
	return tracker.Check{ID: tracker.RecordID(id), Root: tracker.RecordID(id), Outcome: tracker.Looked, At: at, Day: tracker.DateOf(at)}
}

// TestEveryDangerHasItsRule: a sign that can be ticked and says nothing would be worse than no box.
func TestEveryDangerHasItsRule(t *testing.T) {
	offered := slices.Concat(tracker.SiteDangers(), tracker.LegDangers())
	for _, sign := range offered {
		level, act := DangerWords(sign)
		rule, ok := RuleByID(string(sign))
		if !ok || rule.Level != level || rule.Weaken {
			t.Errorf("%s: rule %+v", sign, rule)
		}
		if tracker.DangerName(sign) == "" || !strings.HasPrefix(act, tracker.LevelName(level)) {
			t.Errorf("%s: act %q", sign, act)
		}
		onSite := tracker.Check{ID: "c1", Outcome: tracker.Looked, At: morning, Dangers: []tracker.Danger{sign}}
		fired := Fire(Facts{Sites: []SiteFacts{{Site: tracker.Site{ID: "s1", Leg: tracker.LH, Number: 2}, Place: "pastern, back", Check: onSite}}}, nil, morning)
		if len(fired) == 0 || fired[0].Rule != string(sign) || fired[0].Level != level || fired[0].Check != "c1" {
			t.Errorf("%s on a site: %+v", sign, fired)
		}
		if len(fired) > 0 && !strings.Contains(fired[0].Seen, "left hind") {
			t.Errorf("%s: %q does not name the leg", sign, fired[0].Seen)
		}
	}
	for _, d := range dangers() {
		if !slices.Contains(offered, d.sign) {
			t.Errorf("%s is never offered", d.sign)
		}
	}
}
