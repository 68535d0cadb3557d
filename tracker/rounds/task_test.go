package rounds

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"leground/tracker"
)

// day0 is Thursday 14 May 2026.
var day0 = tracker.NewDate(2026, time.May, 14)

var twoSlots = tracker.DefaultSlots()

func siteOn(id string, leg tracker.Leg, number int) tracker.Site {
	return tracker.Site{ID: tracker.SiteID(id), Horse: "bramble", Leg: leg, Number: number, Kind: tracker.Wound}
}

func planOf(root string, version int, starts tracker.Date, steps ...tracker.PlanStep) tracker.Plan {
	return tracker.Plan{ID: tracker.RecordID(fmt.Sprint(root, version)), Root: tracker.RecordID(root), Version: version, Horse: "bramble",
		Source: tracker.SetByVet, Starts: starts, Steps: steps}
}

func stepOf(id string, kind tracker.StepKind, begins tracker.Date, phases ...tracker.PlanPhase) tracker.PlanStep {
	return tracker.PlanStep{ID: id, Kind: kind, Begins: begins, Phases: phases}
}

func times(n, every int, until tracker.PhaseEnd, count int) tracker.PlanPhase {
	return tracker.PlanPhase{Times: n, Every: every, Until: until, Count: count}
}

// shown writes what is asked for as "0m wash/RH", days counted from day0.
func shown(asked []Asked) string {
	var words []string
	for _, a := range asked {
		words = append(words, fmt.Sprintf("%d%c %s", a.Day-day0, a.Slot.Name[0], a.When.ID))
	}
	return strings.Join(words, " ")
}

func ask(t *testing.T, plans []tracker.Plan, sites []tracker.Site, absences []Absence, from, to int) string {
	t.Helper()
	asked, troubles := Ask(plans, sites, twoSlots, absences, day0+tracker.Date(from), day0+tracker.Date(to))
	if len(troubles) > 0 {
		t.Fatal(troubles[0].Err)
	}
	return shown(asked)
}

// What plans ask for, worked by hand on the calendar; what a new version takes over and when is our own decision.
func TestAsk(t *testing.T) {
	rh1, rh2, lh1 := siteOn("rh1", tracker.RH, 1), siteOn("rh2", tracker.RH, 2), siteOn("lh1", tracker.LH, 1)
	closed := func(s tracker.Site, after int) tracker.Site { s.ClosedOn = day0 + tracker.Date(after); return s }
	joined := func(s tracker.Site, into string) tracker.Site { s.Joined = tracker.SiteID(into); return s }
	sites := []tracker.Site{rh1, rh2, lh1}
	taper := stepOf("w", tracker.StepWash, day0, times(2, 1, tracker.EndsDays, 2), times(1, 1, tracker.EndsClosed, 0))
	onSites := func(p tracker.Plan, ids ...tracker.SiteID) tracker.Plan { p.Sites = ids; return p }
	onLegs := func(p tracker.Plan, legs ...tracker.Leg) tracker.Plan { p.Legs = legs; return p }
	first := onSites(planOf("p", 1, day0, taper), "rh1", "lh1")
	late := taper
	late.BeginsAt = 12 * 60
	evening := onLegs(planOf("p", 2, day0+1, stepOf("w2", tracker.StepWash, day0+1, times(2, 1, tracker.EndsVet, 0))), tracker.LH)
	evening.StartAt = 12 * 60
	stop := planOf("p", 3, day0+3)
	stop.Stopped = true
	for _, c := range []struct {
		what     string
		plans    []tracker.Plan
		sites    []tracker.Site
		absences []Absence
		from, to int
		want     string
	}{
		{"care is once for each leg, also of two sites on it", []tracker.Plan{onSites(planOf("p", 1, day0, taper), "rh1", "rh2")}, sites, nil, 0, 2, "0m w/RH 0e w/RH 1m w/RH 1e w/RH 2m w/RH"},
		{"each leg of the plan, and nothing of others", []tracker.Plan{first}, sites, nil, 1, 2, "1m w/RH 1m w/LH 1e w/RH 1e w/LH 2m w/RH 2m w/LH"},
		{"a leg whose site has closed over is done with it, the other goes on", []tracker.Plan{first}, []tracker.Site{closed(rh1, 3), rh2, lh1}, nil, 2, 4, "2m w/RH 2m w/LH 3m w/LH 4m w/LH"},
		{"both sites of a leg must be closed over", []tracker.Plan{onLegs(planOf("p", 1, day0, taper), tracker.RH)}, []tracker.Site{closed(rh1, 2), rh2}, nil, 2, 3, "2m w/RH 3m w/RH"},
		{"a site that has joined another is open as long as that one", []tracker.Plan{first}, []tracker.Site{joined(rh1, "rh2"), closed(rh2, 4), closed(lh1, 2)}, nil, 2, 5, "2m w/RH 3m w/RH"},
		{"a plan for a leg without sites goes on", []tracker.Plan{onLegs(planOf("p", 1, day0, taper), tracker.LF)}, sites, nil, 9, 9, "9m w/LF"},
		{"begun in the evening", []tracker.Plan{onLegs(planOf("p", 1, day0, late), tracker.RH)}, sites, nil, 0, 1, "0e w/RH 1m w/RH 1e w/RH"},
		{"the whole horse has four legs", []tracker.Plan{planOf("p", 1, day0, taper)}, nil, nil, 2, 2, "2m w/LF 2m w/RF 2m w/RH 2m w/LH"},
		{"a horse away", []tracker.Plan{first}, sites, []Absence{{Horse: "bramble", Span: Span{From: day0 + 2, To: day0 + 2}}}, 2, 3, "3m w/RH 3m w/LH"},
		{"a yard closed", []tracker.Plan{first}, sites, []Absence{{Span: Span{From: day0 + 3}}}, 2, 9, "2m w/RH 2m w/LH"},
		{"another horse away", []tracker.Plan{first}, sites, []Absence{{Horse: "tom", Span: Span{From: day0}}}, 2, 2, "2m w/RH 2m w/LH"},
		{"a version holds from its first round on, the one before until then", []tracker.Plan{first, evening}, sites, nil, 1, 2, "1m w/RH 1m w/LH 1e w2/LH 2m w2/LH 2e w2/LH"},
		{"from the day of a stop on nothing", []tracker.Plan{first, evening, stop}, sites, nil, 2, 9, "2m w2/LH 2e w2/LH"},
		{"two plans stand beside each other", []tracker.Plan{onLegs(planOf("a", 1, day0, taper), tracker.LH), onLegs(planOf("b", 1, day0, stepOf("d", tracker.StepDry, day0, times(1, 1, tracker.EndsVet, 0))), tracker.LH)}, sites, nil, 2, 2, "2m w/LH 2m d/LH"},
		{"the horse's own steps come once", []tracker.Plan{first, planOf("q", 1, day0, stepOf("walk", tracker.StepWalk, day0, times(1, 2, tracker.EndsVet, 0)))}, sites, nil, 1, 2, "1m w/RH 1m w/LH 1e w/RH 1e w/LH 2m w/RH 2m w/LH 2m walk/horse"},
		{"sizes only of what is open", []tracker.Plan{planOf("q", 1, day0, stepOf("m", tracker.StepMeasure, day0, times(1, 2, tracker.EndsVet, 0)))}, []tracker.Site{rh1, closed(rh2, 0), lh1}, nil, 0, 1, "0m m/rh1 0m m/lh1"},
	} {
		if got := ask(t, c.plans, c.sites, c.absences, c.from, c.to); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.what, got, c.want)
		}
	}
}

// A plan for a round that the yard has no more is named, and takes nothing else with it.
func TestAskTroubles(t *testing.T) {
	noon := stepOf("n", tracker.StepWash, day0, tracker.PlanPhase{Slots: []string{"noon"}, Every: 1, Until: tracker.EndsVet})
	plans := []tracker.Plan{planOf("a", 1, day0, noon), planOf("b", 1, day0, stepOf("w", tracker.StepWalk, day0, times(1, 1, tracker.EndsVet, 0)))}
	asked, troubles := Ask(plans, nil, twoSlots, nil, day0, day0)
	if got := shown(asked); got != "0m w/horse" {
		t.Errorf("asked %q, want the other plan's walk", got)
	}
	if len(troubles) != 1 || troubles[0].Plan.Root != "a" || !strings.Contains(troubles[0].Err.Error(), "no noon round") {
		t.Errorf("troubles %v, want one about noon", troubles)
	}
	if asked, troubles := Ask(plans[:1], nil, threeSlots, nil, day0, day0); len(troubles) != 0 || shown(asked) != "0n n/LF 0n n/RF 0n n/RH 0n n/LH" {
		t.Errorf("once the yard has it: %s %v", shown(asked), troubles)
	}
}

// Ask against a reckoning by arithmetic: of random versions whose phases are so many days long, the newest that has
// begun asks by the offset of the day from the first day of its step.
func TestAskAgainstArithmetic(t *testing.T) {
	type phase struct{ times, every, days int }
	rapid.Check(t, func(t *rapid.T) {
		var plans []tracker.Plan
		phases := map[tracker.RecordID][]phase{}
		var starts tracker.Date
		for v := range rapid.IntRange(1, 4).Draw(t, "versions") {
			starts = day0 + tracker.Date(rapid.IntRange(0, 20).Draw(t, "starts"))
			begins := starts - tracker.Date(rapid.IntRange(0, 10).Draw(t, "began before"))
			step := stepOf("w", tracker.StepWalk, begins)
			p := planOf("p", v+1, starts)
			for range rapid.IntRange(1, 3).Draw(t, "phases") {
				one := phase{rapid.IntRange(1, 2).Draw(t, "times"), rapid.IntRange(1, 3).Draw(t, "every"), rapid.IntRange(1, 9).Draw(t, "days")}
				phases[p.ID] = append(phases[p.ID], one)
				step.Phases = append(step.Phases, times(one.times, one.every, tracker.EndsDays, one.days))
			}
			p.StartAt = twoSlots[rapid.IntRange(0, 1).Draw(t, "from slot")].At
			p.Stopped = rapid.IntRange(0, 5).Draw(t, "stopped") == 0
			p.Steps = []tracker.PlanStep{step}
			plans = append(plans, p)
		}
		var want []string
		for day := day0; day < day0+30; day++ {
			for i, slot := range twoSlots {
				var newest *tracker.Plan
				for v := range plans {
					if p := &plans[v]; p.Starts*2000+tracker.Date(p.StartAt) <= day*2000+tracker.Date(slot.At) {
						newest = p
					}
				}
				if newest == nil || newest.Stopped {
					continue
				}
				offset := int(day - newest.Steps[0].Begins)
				for _, one := range phases[newest.ID] {
					if offset < one.days {
						if offset >= 0 && offset%one.every == 0 && (i == 0 || one.times == 2) {
							want = append(want, fmt.Sprintf("%d%c w/horse", day-day0, slot.Name[0]))
						}
						break
					}
					offset -= one.days
				}
			}
		}
		asked, troubles := Ask(plans, nil, twoSlots, nil, day0, day0+29)
		if len(troubles) > 0 {
			t.Fatal(troubles[0].Err)
		}
		if diff := cmp.Diff(strings.Join(want, " "), shown(asked)); diff != "" {
			t.Fatalf("-arithmetic +Ask:\n%s", diff)
		}
		// The calendar's last day: nothing after it of the last version, whose every day the plan is due at its end.
		last := plans[len(plans)-1]
		last.StartAt, last.Stopped, last.Starts = 0, false, last.Steps[0].Begins
		end := LastDay(last)
		for i := range last.Steps[0].Phases {
			last.Steps[0].Phases[i].Every = 1
		}
		asked, _ = Ask([]tracker.Plan{last}, nil, twoSlots, nil, last.Starts, end+10)
		if len(asked) == 0 || asked[len(asked)-1].Day != end {
			t.Fatalf("the last day is said to be %s, but the last due is %s", end, shown(asked))
		}
	})
}

// Only the calendar may say when a plan is over.
func TestLastDay(t *testing.T) {
	for _, c := range []struct {
		what   string
		phases []tracker.PlanPhase
		want   tracker.Date
	}{
		{"seven days from day 0", []tracker.PlanPhase{times(1, 1, tracker.EndsDays, 7)}, day0 + 6},
		{"seven days and three", []tracker.PlanPhase{times(1, 1, tracker.EndsDays, 7), times(1, 1, tracker.EndsDays, 3)}, day0 + 9},
		{"to a date", []tracker.PlanPhase{{Times: 1, Every: 1, Until: tracker.EndsOn, Date: day0 + 3}}, day0 + 3},
		{"until the vet says", []tracker.PlanPhase{times(1, 1, tracker.EndsVet, 0)}, 0},
		{"the vet has said so", []tracker.PlanPhase{{Times: 1, Every: 1, Until: tracker.EndsVet, Date: day0 + 5}}, day0 + 4},
		{"until closed over", []tracker.PlanPhase{times(1, 1, tracker.EndsDays, 7), times(1, 1, tracker.EndsClosed, 0)}, 0},
		{"so many times", []tracker.PlanPhase{times(1, 1, tracker.EndsTimes, 3)}, 0},
	} {
		if got := LastDay(planOf("p", 1, day0, stepOf("s", tracker.StepWalk, day0, c.phases...))); got != c.want {
			t.Errorf("%s: %s, want %s", c.what, got, c.want)
		}
	}
	if got := LastDay(planOf("p", 1, day0, stepOf("a", tracker.StepWalk, day0, times(1, 1, tracker.EndsDays, 2)), stepOf("b", tracker.StepWalk, day0, times(1, 1, tracker.EndsVet, 0)))); got != 0 {
		t.Errorf("a plan with one open step ends on %s", got)
	}
}

// A plan's sizes count from the last one, however it came; days of the week wait for their day.
func TestSizeByPlan(t *testing.T) {
	site, other := siteOn("rh1", tracker.RH, 1), siteOn("lh1", tracker.LH, 1)
	sites := []tracker.Site{site, other}
	every := func(n int) tracker.PlanPhase { return times(1, n, tracker.EndsVet, 0) }
	onDays := tracker.PlanPhase{Times: 1, On: "mon,thu", Until: tracker.EndsVet} // 14 May 2026 is a Thursday
	for _, c := range []struct {
		what         string
		phase        tracker.PlanPhase
		site         tracker.Site
		last, today  int // days after day0
		due, planned bool
	}{
		{"every third day, one day on", every(3), site, 3, 4, false, true},
		{"every third day, two days on", every(3), site, 3, 5, false, true},
		{"every third day, three days on", every(3), site, 3, 6, true, true},
		{"overdue stays due", every(3), site, 3, 9, true, true},
		{"another site", every(3), other, 3, 9, false, false},
		{"Thursday, measured on Monday", onDays, site, 4, 7, true, true},
		{"Thursday, measured on Thursday", onDays, site, 7, 7, false, true},
		{"Friday, Thursday was missed", onDays, site, 4, 8, true, true},
		{"Friday, Thursday was measured", onDays, site, 7, 8, false, true},
		{"a plan that is over", times(1, 1, tracker.EndsDays, 3), site, 0, 3, false, false},
		{"the last day of a plan", times(1, 1, tracker.EndsDays, 3), site, 0, 2, true, true},
	} {
		p := planOf("p", 1, day0, stepOf("m", tracker.StepMeasure, day0, c.phase))
		p.Sites = []tracker.SiteID{"rh1"}
		due, planned := SizeByPlan([]tracker.Plan{p}, c.site, sites, twoSlots, day0+tracker.Date(c.last), day0+tracker.Date(c.today))
		if due != c.due || planned != c.planned {
			t.Errorf("%s: due %v planned %v, want %v %v", c.what, due, planned, c.due, c.planned)
		}
	}
}

// Times of notices, worked by hand: the yard is in London, on summer time, and its first round is at 07:00.
func TestNotices(t *testing.T) {
	zone, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	at := func(after, hour int) time.Time { return time.Date(2026, time.May, 14+after, hour, 0, 0, 0, zone) }
	trim := stepOf("trim", tracker.StepTrim, day0+4, times(1, 28, tracker.EndsVet, 0))
	weigh := stepOf("weigh", tracker.StepWeigh, day0+1, times(1, 7, tracker.EndsVet, 0))
	wash := stepOf("wash", tracker.StepWash, day0, times(2, 1, tracker.EndsDays, 5))
	c := Calendar{Zone: zone, Slots: twoSlots, Horses: []tracker.Horse{{ID: "bramble"}}, Plans: []tracker.Plan{planOf("feet", 1, day0, trim, weigh), planOf("skin", 1, day0, wash)},
		OneOffs: []tracker.OneOff{{ID: "x", Kind: tracker.FarrierComes, Day: day0 + 2, What: "The farrier comes"}, {ID: "y", Kind: tracker.VetComes, Day: day0 + 1, Settled: at(0, 1)}}}
	list := func(now time.Time) []string {
		var out []string
		for _, n := range c.Notices(now) {
			out = append(out, n.Subject+" at "+n.At.In(zone).Format("2 Jan 15:04")+" until "+n.UseBy.In(zone).Format("2 Jan 15:04"))
		}
		slices.Sort(out)
		return out
	}
	all := []string{
		"one-off 2026-05-16 x at 16 May 07:00 until 17 May 00:00",
		"plan end 2026-05-18 skin1 at 16 May 07:00 until 19 May 00:00",
		"trim 2026-05-18 trim/horse at 15 May 07:00 until 19 May 00:00",
		"weigh 2026-05-15 weigh/horse at 15 May 07:00 until 16 May 00:00",
	}
	if diff := cmp.Diff(all, list(at(0, 8))); diff != "" {
		t.Errorf("on the first day (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff([]string{all[1], all[2]}, list(at(4, 23))); diff != "" {
		t.Errorf("on the last evening (-want +got):\n%s", diff)
	}
	if got := list(at(5, 0)); len(got) != 0 {
		t.Errorf("at midnight after it: %v", got)
	}
	c.Ticks = []tracker.TickOff{{ID: "t", Outcome: tracker.TickDone, Items: []string{"trim/horse"}, Day: day0 + 4}}
	if diff := cmp.Diff([]string{all[1]}, list(at(4, 12))); diff != "" {
		t.Errorf("once the trim is done (-want +got):\n%s", diff)
	}
	c.Horses = nil
	if got := list(at(4, 12)); len(got) != 0 {
		t.Errorf("of a horse that has gone: %v", got)
	}
}

// Of two ticks the one that says done counts; one that was taken back does not.
func TestTickOf(t *testing.T) {
	tick := func(id string, outcome tracker.TickOutcome, of string, items ...string) tracker.TickOff {
		return tracker.TickOff{ID: tracker.RecordID(id), Outcome: outcome, Of: tracker.RecordID(of), Items: items, Day: day0, Slot: "morning"}
	}
	ticks := []tracker.TickOff{tick("a", tracker.TickDone, "", "x"), tick("b", tracker.TickSkipped, "", "x", "y"), tick("c", tracker.TickDone, "", "z"), tick("d", tracker.TickUndone, "c", "z")}
	for item, want := range map[string]string{"x": "a", "y": "b", "z": ""} {
		got, found := TickOf(tracker.Ticked(ticks), item, day0, "morning")
		if string(got.ID) != want || found != (want != "") {
			t.Errorf("%s: %q %v, want %q", item, got.ID, found, want)
		}
		if _, found := TickOf(ticks, item, day0, "evening"); found {
			t.Errorf("%s was ticked in another round", item)
		}
		if _, found := TickOf(ticks, item, day0+1, "morning"); found {
			t.Errorf("%s was ticked on another day", item)
		}
	}
}
