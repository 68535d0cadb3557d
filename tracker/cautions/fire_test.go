package cautions

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"leground/tracker"
)

var levelWords = map[tracker.Level]string{0: "none", tracker.RingNow: "now", tracker.RingToday: "today", tracker.NextVisit: "visit"}

func highest(all []Fired) tracker.Level {
	var level tracker.Level
	for _, f := range all {
		level = mostUrgent(level, f.Level)
	}
	return level
}

// TestFireVectors fires every line of the urgency table, and the cases on both sides of each limit.
func TestFireVectors(t *testing.T) {
	met := map[string]bool{}
	for _, file := range []string{"urgency.txt", "cases.txt"} {
		for _, row := range rows(t, file, 4) {
			fired := Fire(parseFacts(t, row[1]), nil, morning)
			var rules []string
			for _, f := range fired {
				rules = append(rules, f.Rule)
				met[f.Rule] = true
				if f.Horse != "bramble" || f.Seen == "" || f.Why == "" || f.Next == "" || f.Numbers == nil {
					t.Errorf("%s: %+v is not whole", row[1], f)
				}
			}
			if got := strings.Join(rules, ", "); got != row[3] {
				t.Errorf("%s: fired %q, want %q", row[1], got, row[3])
			}
			if got := levelWords[highest(fired)]; got != row[2] {
				t.Errorf("%s: level %s, want %s", row[1], got, row[2])
			}
		}
	}
	for _, r := range Rules() {
		if !met[r.ID] {
			t.Errorf("no vector fires %s", r.ID)
		}
	}
}

// TestFahrenheit: the sources print their limits in Fahrenheit.
func TestFahrenheit(t *testing.T) {
	for _, row := range rows(t, "fahrenheit.txt", 5) {
		f, err := strconv.ParseFloat(row[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		if got := fmt.Sprintf("%.1f", (f-32)*5/9); got != row[2] {
			t.Errorf("%s °F is %s °C, want %s", row[1], got, row[2])
		}
		r, _ := RuleByID(row[3])
		if got := fmt.Sprintf("%.1f", r.number(row[4])); got != row[2] {
			t.Errorf("%s %s is %s, want %s", row[3], row[4], got, row[2])
		}
	}
}

// labelRules may go away when a label changes; no other rule may.
var labelRules = []string{"widening", "several-worse", "patch-worse", "patch-7", "not-closing", "slow-28", "unclear-28"}

// randomFacts draws facts from the parts of all vector rows, so that every rule is met often.
func randomFacts(t *testing.T, rt *rapid.T, parts []string) Facts {
	picked := rapid.SliceOfN(rapid.SampledFrom(parts), 1, 12).Draw(rt, "facts")
	sites := []string{"wound LH 1 upper-cannon dorsal; patch LH 2 heel-bulb plantar; wound RH 1 fetlock lateral; wound RF 1 upper-cannon dorsal; " +
		"RF 1 label widening; RH 1 label widening"}
	facts := parseFacts(t, strings.Join(append(sites, picked...), "; "))
	for i := range facts.Sites {
		facts.Sites[i].Site.OpenedAt = morning.Add(-time.Duration(i) * time.Hour)
	}
	return facts
}

func vectorParts(t *testing.T) []string {
	var parts []string
	for _, row := range rows(t, "urgency.txt", 4) {
		for part := range strings.SplitSeq(row[1], ";") {
			if part = strings.TrimSpace(part); !strings.HasPrefix(part, "wound") && !strings.HasPrefix(part, "patch") {
				parts = append(parts, part)
			}
		}
	}
	return parts
}

type subject struct {
	rule string
	leg  tracker.Leg
	site tracker.SiteID
}

func bySubject(all []Fired) map[subject]Fired {
	m := map[subject]Fired{}
	for _, f := range all {
		m[subject{f.Rule, f.Leg, f.Site}] = f
	}
	return m
}

// TestDangerNeverLowers: whatever else is known, one more danger takes nothing away.
func TestDangerNeverLowers(t *testing.T) {
	parts := vectorParts(t)
	rapid.Check(t, func(rt *rapid.T) {
		facts := randomFacts(t, rt, parts)
		before := Fire(facts, nil, morning)
		sign := rapid.SampledFrom(tracker.SiteDangers()).Draw(rt, "danger")
		if rapid.Bool().Draw(rt, "on a leg") {
			line := &facts.Legs[rapid.IntRange(0, len(facts.Legs)-1).Draw(rt, "leg")].Line
			line.Dangers = append(line.Dangers, sign)
		} else {
			look := &facts.Sites[rapid.IntRange(0, len(facts.Sites)-1).Draw(rt, "site")].Check
			look.Dangers = append(look.Dangers, sign)
		}
		after := Fire(facts, nil, morning)
		still := bySubject(after)
		for s, f := range bySubject(before) {
			if now, ok := still[s]; !ok || now.Level > f.Level {
				rt.Fatalf("%s took away or lowered %+v: %+v", sign, f, now)
			}
		}
		level, _ := DangerWords(sign)
		if got := highest(after); got > level || got > highest(before) && len(before) > 0 {
			rt.Fatalf("%s is %s but the highest level is %s", sign, level, got)
		}
	})
}

// TestGoodLabelHidesNothing: a site that closes or clears takes no other rule's caution away.
func TestGoodLabelHidesNothing(t *testing.T) {
	parts := vectorParts(t)
	rapid.Check(t, func(rt *rapid.T) {
		facts := randomFacts(t, rt, parts)
		before := Fire(facts, nil, morning)
		label := rapid.SampledFrom([]string{"closing", "closed over", "clearing", "early widening"}).Draw(rt, "label")
		for i := range facts.Sites {
			facts.Sites[i].Judged = tracker.Judgement{Label: label, Day: tracker.DateOf(morning)}
		}
		still := bySubject(Fire(facts, nil, morning))
		for s, f := range bySubject(before) {
			if now := still[s]; !slices.Contains(labelRules, f.Rule) && now.Level != f.Level {
				rt.Fatalf("the label %q hid %+v", label, f)
			}
		}
	})
}

// TestOrderOfFacts: lists may come in any order.
func TestOrderOfFacts(t *testing.T) {
	parts := vectorParts(t)
	rapid.Check(t, func(rt *rapid.T) {
		facts := randomFacts(t, rt, parts)
		want := Fire(facts, nil, morning)
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 1))
		shuffle(random, facts.Legs)
		shuffle(random, facts.Sites)
		shuffle(random, facts.Vitals)
		shuffle(random, facts.Body.Scores)
		for i := range facts.Legs {
			shuffle(random, facts.Legs[i].Earlier)
			shuffle(random, facts.Legs[i].Girths)
		}
		if diff := cmp.Diff(want, Fire(facts, nil, morning)); diff != "" {
			rt.Fatal(diff)
		}
	})
}

func shuffle[T any](random *rand.Rand, list []T) {
	random.Shuffle(len(list), func(i, j int) { list[i], list[j] = list[j], list[i] })
}

// TestRetractedLooksCountForNothing: a look that was taken back fires no rule by itself.
func TestRetractedLooksCountForNothing(t *testing.T) {
	facts := parseFacts(t, "wound LH 1 upper-cannon dorsal; LH 1 tick bleeding; LH walk 5; temp 39.5; LF flag itch")
	if len(Fire(facts, nil, morning)) < 4 {
		t.Fatal("the facts fire too little to show anything")
	}
	facts.Sites[0].Check.Outcome = tracker.Retracted
	facts.Vitals[0].Outcome = tracker.Retracted
	for i := range facts.Legs {
		facts.Legs[i].Line.Outcome = tracker.Retracted
	}
	if fired := Fire(facts, nil, morning); len(fired) > 0 {
		t.Errorf("fired %+v", fired)
	}
}

// TestSettings: a yard moves and switches off what may be moved, and nothing else.
func TestSettings(t *testing.T) {
	day := tracker.DateOf(morning)
	facts := parseFacts(t, "patch LH 1 pastern plantar; LH 1 label no change; LH 1 days 14; LH 1 tick sticky-fluid; temp 38.7")
	off := Settings{}
	for _, r := range Rules() {
		off[r.ID] = Setting{Off: true, Who: "Ada", On: day}
		if err := CheckSetting(r.ID, off[r.ID]); (err == nil) != r.Weaken {
			t.Errorf("%s: weaken is %t but %v", r.ID, r.Weaken, err)
		}
		if r.Weaken && r.Level == tracker.RingNow {
			t.Errorf("%s is for now and may be weakened", r.ID)
		}
	}
	var left []string
	for _, f := range Fire(facts, off, morning) {
		left = append(left, f.Rule)
	}
	if want := []string{"sticky-fluid", "temperature-today"}; !slices.Equal(left, want) {
		t.Errorf("with everything off that may be: %v, want %v", left, want)
	}
	later := Settings{"patch-14": {Values: map[string]float64{"days": 21}, Who: "your vet", On: day - 3}}
	if m := bySubject(Fire(facts, later, morning)); m[subject{"patch-14", tracker.LH, "LH1"}].Rule != "" {
		t.Error("patch-14 fires at day 14 although the vet set it to day 21")
	}
	facts.Sites[0].DaysSinceFirst = 21
	f := bySubject(Fire(facts, later, morning))[subject{"patch-14", tracker.LH, "LH1"}]
	if f.Why != "The number in this rule was set by your vet on Mon 11 May." {
		t.Errorf("why: %q", f.Why)
	}
	for id, s := range map[string]Setting{
		"patch-14": {Values: map[string]float64{"days": 43}, Who: "Ada", On: day},
		"patch-7":  {Values: map[string]float64{"weeks": 1}, Who: "Ada", On: day},
		"itch":     {Off: true},
		"nothing":  {Off: true, Who: "Ada", On: day},
	} {
		if err := CheckSetting(id, s); tracker.KindOf(err) == 0 {
			t.Errorf("%s %+v: %v", id, s, err)
		}
	}
}

// TestNumberWithoutMark: a caller that chose no decimal mark loses no red flag.
func TestNumberWithoutMark(t *testing.T) {
	facts := parseFacts(t, "temp 39.5")
	if f := Fire(facts, nil, morning); len(f) != 1 || !strings.Contains(f[0].Seen, "39.5\u00a0°C") {
		t.Errorf("%+v", f)
	}
	facts.Mark = tracker.Comma
	if f := Fire(facts, nil, morning); !strings.Contains(f[0].Seen, "39,5\u00a0°C") {
		t.Errorf("%+v", f)
	}
}

// TestOneCautionOfManyTicks: the same danger on the leg line and on two cards is one caution about the
// leg, and it belongs to the newest look.
func TestOneCautionOfManyTicks(t *testing.T) {
	facts := parseFacts(t, "wound LH 1 upper-cannon dorsal; wound LH 2 upper-cannon medial; LH tick not-bearing; LH 1 tick not-bearing; LH 2 tick not-bearing")
	facts.Sites[1].Check.At = morning.Add(time.Minute)
	fired := Fire(facts, nil, morning.Add(time.Hour))
	if len(fired) != 1 || fired[0].Site != "" || fired[0].Check != facts.Sites[1].Check.ID {
		t.Errorf("%+v", fired)
	}
}
