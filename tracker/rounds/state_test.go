package rounds

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"leground/tracker"
	"pgregory.net/rapid"
)

func TestJudge(t *testing.T) {
	useBy := instant(t, "2026-05-14T17:30:00Z")
	due := []string{"LF", "RF", "RH 1"}
	did := func(items ...string) (all []Answer) {
		for _, item := range items {
			all = append(all, Answer{Item: item, Done: true})
		}
		return all
	}
	skip := func(item, why string) Answer { return Answer{Item: item, Why: why} }
	for name, c := range map[string]struct {
		due     []string
		answers []Answer
		skipped string
		late    bool
		want    Tally
	}{
		"nothing yet":      {due: due, want: Tally{State: tracker.RoundOpen, Missing: due}},
		"nothing in time":  {due: due, late: true, want: Tally{State: tracker.RoundNoRecord, Missing: due}},
		"all":              {due: due, answers: did("RF", "LF", "RH 1"), want: Tally{State: tracker.RoundDone, Done: due}},
		"all, late":        {due: due, answers: did(due...), late: true, want: Tally{State: tracker.RoundDone, Done: due}},
		"all, twice":       {due: due, answers: did("LF", "LF", "RF", "RH 1"), want: Tally{State: tracker.RoundDone, Done: due}},
		"some":             {due: due, answers: did("RF"), want: Tally{State: tracker.RoundPartDone, Done: due[1:2], Missing: []string{"LF", "RH 1"}}},
		"some, late":       {due: due, answers: did("RF"), late: true, want: Tally{State: tracker.RoundPartDone, Done: due[1:2], Missing: []string{"LF", "RH 1"}}},
		"only what is not": {due: due, answers: did("LH"), late: true, want: Tally{State: tracker.RoundNoRecord, Missing: due}},
		"one skipped": {due: due, answers: append(did("LF", "RF"), skip("RH 1", "would not stand")),
			want: Tally{State: tracker.RoundPartDone, Reason: "would not stand", Done: due[:2], Skipped: due[2:]}},
		"skipped by one, done by another": {due: due, answers: append(did(due...), skip("RH 1", "would not stand")),
			want: Tally{State: tracker.RoundDone, Done: due}},
		"each skipped": {due: due, answers: []Answer{skip("LF", "vet here"), skip("RF", "vet here"), skip("RH 1", "bandaged"), skip("LH", "no")},
			want: Tally{State: tracker.RoundSkipped, Reason: "vet here; bandaged", Skipped: due}},
		"one skipped so far": {due: due, answers: []Answer{skip("LF", "vet here")},
			want: Tally{State: tracker.RoundPartDone, Reason: "vet here", Skipped: due[:1], Missing: due[1:]}},
		"the round skipped": {due: due, skipped: "storm", want: Tally{State: tracker.RoundSkipped, Reason: "storm", Skipped: due}},
		"the rest skipped": {due: due, answers: did("LF"), skipped: "storm",
			want: Tally{State: tracker.RoundPartDone, Reason: "storm", Done: due[:1], Skipped: due[1:]}},
		"skipped and then done": {due: due, answers: did(due...), skipped: "storm", late: true, want: Tally{State: tracker.RoundDone, Done: due}},
		"nothing due":           {answers: did("LF"), want: Tally{State: tracker.RoundSkipped, Reason: "nothing was due"}},
	} {
		now := useBy.Add(-time.Second)
		if c.late {
			now = useBy
		}
		if diff := cmp.Diff(c.want, Judge(useBy, c.due, c.answers, c.skipped, now)); diff != "" {
			t.Errorf("%s (-want +got):\n%s", name, diff)
		}
	}
}

// TestJudgeProperties holds for any answers: everything due is in one of three parts, more records never
// make less of a round, and the order in which they arrive does not matter.
func TestJudgeProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		items := []string{"a", "b", "c", "d"}
		due := rapid.SliceOfDistinct(rapid.SampledFrom(items), func(s string) string { return s }).Draw(t, "due")
		answer := rapid.Custom(func(t *rapid.T) Answer {
			return Answer{Item: rapid.SampledFrom(items).Draw(t, "item"), Done: rapid.Bool().Draw(t, "done"), Why: "w"}
		})
		answers := rapid.SliceOfN(answer, 0, 8).Draw(t, "answers")
		skipped := rapid.SampledFrom([]string{"", "storm"}).Draw(t, "skipped")
		now := time.Unix(rapid.Int64Range(0, 2).Draw(t, "now"), 0)
		got := Judge(time.Unix(1, 0), due, answers, skipped, now)
		parts := slices.Concat(got.Done, got.Skipped, got.Missing)
		slices.Sort(parts)
		if want := slices.Sorted(slices.Values(due)); !slices.Equal(parts, want) {
			t.Fatalf("%v are due, %v are in the parts", want, parts)
		}
		more := Judge(time.Unix(1, 0), due, append(slices.Clone(answers), answer.Draw(t, "one more")), skipped, now)
		if len(more.Missing) > len(got.Missing) || len(more.Done) < len(got.Done) {
			t.Fatalf("one more record makes %+v of %+v", more, got)
		}
		slices.Reverse(answers)
		if turned := Judge(time.Unix(1, 0), due, answers, skipped, now); turned.State != got.State || !slices.Equal(turned.Done, got.Done) {
			t.Fatalf("in another order: %+v, not %+v", turned, got)
		}
	})
}

func TestPlace(t *testing.T) {
	london := zone(t, "Europe/London")
	daily := func(every int, times ...string) Schedule {
		s := Schedule{Zone: london, Days: Days{Every: every}, First: date(t, "2026-05-10")}
		for _, at := range times {
			s.Slots = append(s.Slots, tracker.Slot{Name: at, At: minute(t, at)})
		}
		return s
	}
	twice, once, third := daily(1, "07:00", "18:30"), daily(1, "18:30"), daily(3, "07:00")
	for _, c := range []struct {
		schedule Schedule
		at       string // local
		want     string
	}{
		// The gaps are 11 h 30 min and 12 h 30 min; a quarter is 2 h 52 min 30 s and 3 h 7 min 30 s.
		{twice, "2026-05-14T03:52:00+01:00", "2026-05-13 18:30"},
		{twice, "2026-05-14T03:53:00+01:00", "2026-05-14 07:00"},
		{twice, "2026-05-14T07:00:00+01:00", "2026-05-14 07:00"},
		{twice, "2026-05-14T15:37:00+01:00", "2026-05-14 07:00"},
		{twice, "2026-05-14T15:38:00+01:00", "2026-05-14 18:30"},
		{twice, "2026-05-14T23:59:00+01:00", "2026-05-14 18:30"},
		{once, "2026-05-14T12:29:00+01:00", "2026-05-13 18:30"},
		{once, "2026-05-14T12:30:00+01:00", "2026-05-14 18:30"},
		// Every third day from 10 May: due on the 13th and the 16th, usable for 18 h, early from 19:00.
		{third, "2026-05-14T00:59:00+01:00", "2026-05-13 07:00"},
		{third, "2026-05-14T01:00:00+01:00", ""},
		{third, "2026-05-15T18:59:00+01:00", ""},
		{third, "2026-05-15T19:00:00+01:00", "2026-05-16 07:00"},
	} {
		all, err := c.schedule.Rounds(date(t, "2026-05-10"), date(t, "2026-05-17"))
		if err != nil {
			t.Fatal(err)
		}
		slices.Reverse(all) // any order will do
		var got []string
		for _, r := range Place(all, instant(t, c.at)) {
			got = append(got, KeyOf(r).String())
		}
		if strings.Join(got, " and ") != c.want {
			t.Errorf("%s belongs to %q, want %q", c.at, got, c.want)
		}
	}
	// On the night of the gap both rounds are due at 03:30, and one look counts for both.
	berlin := Schedule{Zone: zone(t, "Europe/Berlin"), Days: Days{Every: 1}, First: date(t, "2026-03-01"),
		Slots: []tracker.Slot{{Name: "02:30", At: 150}, {Name: "03:30", At: 210}}}
	all, err := berlin.Rounds(date(t, "2026-03-28"), date(t, "2026-03-30"))
	if err != nil {
		t.Fatal(err)
	}
	if got := Place(all, instant(t, "2026-03-29T03:40:00+02:00")); len(got) != 2 || got[0].Day != got[1].Day || !got[0].DueAt.Equal(got[1].DueAt) {
		t.Errorf("two rounds at one instant: a look counts for %v", got)
	}
	if Place(nil, time.Now()) != nil {
		t.Error("without rounds nothing belongs to one")
	}
}
