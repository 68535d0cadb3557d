package cautions

import (
	"regexp"
	"strings"
	"testing"

	"leground/tracker"
)

// banned are the words that no person is shown (own choice: plain words; "diagnosis" stands in the fixed
// sentence alone), and marks that have been misread: list of error-prone abbreviations, Institute for Safe
// Medication Practices (from memory).
var banned = regexp.MustCompile(`(?i)\b(diagnose|detected|risk score|abnormal|critical|compliance|non-compliant|patient|user|sync|cache|submit|invalid|oops|please|infection|deteriorat\w*|all fine|ml|cc)\b|[<>%!]|\d:\d+ |(^|[^\d])\.\d|\d\.0\b`)

// sentences splits text where a full stop, a question mark or a colon at the end of a line ends one.
func sentences(text string) []string {
	return regexp.MustCompile(`[.?](\s|$)`).Split(strings.TrimSpace(text), -1)
}

func checkWords(t *testing.T, where, text string) {
	t.Helper()
	if strings.TrimSpace(text) == "" {
		t.Errorf("%s: nothing is said", where)
	}
	if found := banned.FindString(text); found != "" {
		t.Errorf("%s: %q has %q", where, text, found)
	}
	if strings.Contains(text, "  ") || strings.Contains(text, " .") || strings.Contains(text, "%!") {
		t.Errorf("%s: %q is badly put together", where, text)
	}
	for _, sentence := range sentences(text) {
		if words := len(strings.Fields(sentence)); words > 20 {
			t.Errorf("%s: %d words in %q", where, words, sentence)
		}
	}
}

// TestWordsOfRules reads everything a rule says.
func TestWordsOfRules(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range Rules() {
		if seen[r.ID] {
			t.Errorf("%s stands twice", r.ID)
		}
		seen[r.ID] = true
		checkWords(t, r.ID+" title", r.Title)
		checkWords(t, r.ID+" why", r.Why)
		checkWords(t, r.ID+" next", r.Next)
		checkWords(t, r.ID+" level", tracker.LevelName(r.Level))
		checkWords(t, r.ID+" grade", r.Grade.String())
		if (r.Source == "") == (r.Grade == Published) {
			t.Errorf("%s: grade %s with source %q", r.ID, r.Grade, r.Source)
		}
		if r.Again < nextDay {
			t.Errorf("%s may show again after %s", r.ID, r.Again)
		}
		for _, n := range r.Thresholds {
			checkWords(t, r.ID+" "+n.Name, n.Words+" "+n.Unit)
			if n.Value < n.Least || n.Value > n.Most || !r.Weaken && n.Least != n.Most {
				t.Errorf("%s: %+v", r.ID, n)
			}
		}
	}
	for _, sign := range tracker.SiteDangers() {
		_, act := DangerWords(sign)
		checkWords(t, string(sign), act)
	}
	if level, act := DangerWords("no such sign"); level != 0 || act != "" {
		t.Errorf("an unknown sign is %s %q", level, act)
	}
}

// TestWordsOfCautions reads what every vector row says, and what is to be said on the telephone.
func TestWordsOfCautions(t *testing.T) {
	for _, row := range rows(t, "urgency.txt", 4) {
		facts := parseFacts(t, row[1])
		for i := range facts.Sites {
			j := &facts.Sites[i].Judged
			if j.Label != "" { // give the label its numbers
				j.HasRate, j.Rate, j.SpanDays, j.FirstDay, j.FirstCM2, j.AreaCM2 = true, -0.12, 14, j.Day-14, 6.4, 12.2
				j.Active, j.ActiveJudged = 7, 6
			}
		}
		for _, f := range Fire(facts, nil, morning) {
			for _, text := range []string{f.Seen, f.Why, f.Next} {
				checkWords(t, row[1], text)
			}
			for name, value := range f.Numbers {
				checkWords(t, row[1], name+" "+value)
			}
			lines := SayLines("Bramble", "right hind, pastern, back", f.Caution("k1", morning))
			if len(lines) != 3 {
				t.Errorf("%d lines to say", len(lines))
			}
			for _, line := range lines {
				checkWords(t, row[1], line)
			}
			checkWords(t, row[1], SayLines("Bramble", "", f.Caution("k1", morning))[0])
		}
	}
}

func TestFixedWords(t *testing.T) {
	for where, row := range map[string][2]string{
		"disclaimer":  {NotADiagnosis, "This is not a diagnosis. Only your vet can say what it means."},
		"morning":     {NothingMet("morning"), "Nothing in your vet's rules was met this morning."},
		"named slot":  {NothingMet("noon"), "Nothing in your vet's rules was met at the noon round."},
		"no slot":     {NothingMet(""), "Nothing in your vet's rules was met."},
		"no data":     {NoData("RH 1", 3), "RH 1 has not been looked at for 3 days. We cannot say how it is doing."},
		"no data yet": {NoData("RH 1", 1), "RH 1 has not been looked at for 1 day. We cannot say how it is doing."},
	} {
		if row[0] != row[1] {
			t.Errorf("%s: %q, want %q", where, row[0], row[1])
		}
		checkWords(t, where, row[0])
	}
	for _, text := range []string{NewCaution, LevelRose, RingNowAgain, SameLook, StillOpen, PromisedRing, ShownLately, SaidOnce, NothingNewYet} {
		checkWords(t, "hold", text)
	}
	for _, level := range []tracker.Level{tracker.RingNow, tracker.RingToday, tracker.NextVisit} {
		for _, offer := range Offers(level) {
			checkWords(t, "offer", offer.Words)
		}
		for _, kind := range []tracker.CautionActKind{0, tracker.Rang} {
			for _, role := range []tracker.Role{tracker.Owner, tracker.Carer} {
				_, reason := TellOwner(level, kind, role)
				checkWords(t, "tell", reason)
			}
		}
	}
	for _, c := range []tracker.Caution{{Level: tracker.RingNow}, {Level: tracker.NextVisit}, {Level: tracker.NextVisit, Raised: morning}} {
		for _, visit := range []tracker.Date{0, tracker.DateOf(morning) + 7} {
			_, reason := Escalate(c, hours(7*24), visit)
			checkWords(t, "escalate", reason)
		}
		for _, kind := range []tracker.CautionActKind{0, tracker.VetKnows, tracker.WillRingAt} {
			if err := CheckAct(c, act(kind, 1)); err != nil {
				checkWords(t, "act", err.Error())
			}
		}
	}
	for id, s := range map[string]Setting{"bleeding": {}, "x": {}, "itch": {}, "patch-7": {Who: "Ada", On: 1, Values: map[string]float64{"days": 99}}} {
		checkWords(t, id, CheckSetting(id, s).Error())
	}
}

// TestWordsOfLegs: a yard that says near and off reads near and off.
func TestWordsOfLegs(t *testing.T) {
	facts := parseFacts(t, "wound RH 2 pastern plantar; RH 2 tick bleeding; LF tick not-bearing")
	facts.LegWords = tracker.NearOff
	var said []string
	for _, f := range Fire(facts, nil, morning) {
		said = append(said, f.Seen)
	}
	want := "Ticked Thu 14 May, 07:40: will not put weight on the near fore. " +
		"Ticked Thu 14 May, 07:40: still bleeding after 10 minutes' pressure. It is on the off hind, pastern, back (RH 2)."
	if got := strings.Join(said, " "); got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}
