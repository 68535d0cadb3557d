package rounds

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leground/tracker"
)

var threeSlots = []tracker.Slot{{Name: "morning", At: 7 * 60}, {Name: "noon", At: 12 * 60}, {Name: "evening", At: 18*60 + 30}}

func slotNamed(letter byte) tracker.Slot {
	return threeSlots[strings.IndexByte("mne", letter)]
}

// parsePhase reads the short form of phases.txt.
func parsePhase(t *testing.T, text string) Phase {
	t.Helper()
	words := strings.SplitN(strings.TrimSpace(text), " ", 3)
	var p Phase
	if n, many := strings.CutSuffix(words[0], "/day"); many {
		p.Times = number(t, n)
	} else {
		for i := range words[0] {
			p.Slots = append(p.Slots, slotNamed(words[0][i]).Name)
		}
	}
	if every, err := strconv.Atoi(words[1]); err == nil {
		p.Days.Every = every
	} else if p.Days.On, err = ParseWeekdays(words[1]); err != nil {
		t.Fatal(err)
	}
	end, day, _ := strings.Cut(words[2], "@")
	switch {
	case strings.HasPrefix(end, "for "):
		p.End = End{Kind: AfterDays, Count: number(t, end[4:len(end)-1])}
	case strings.HasSuffix(end, "x"):
		p.End = End{Kind: AfterTimes, Count: number(t, end[:len(end)-1])}
	case strings.HasPrefix(end, "to "):
		p.End = End{Kind: OnDate, Date: date(t, end[3:])}
	case end == "vet":
		p.End.Kind = UntilVetSays
	case end == "closed":
		p.End.Kind = UntilClosedOver
	default:
		t.Fatalf("%q: no such end", text)
	}
	if day != "" {
		p.End.Date = date(t, day)
	}
	return p
}

func number(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// parsePhases reads phases, parted by a comma and a space.
func parsePhases(t *testing.T, text string) []Phase {
	t.Helper()
	var all []Phase
	for part := range strings.SplitSeq(text, ", ") {
		all = append(all, parsePhase(t, part))
	}
	return all
}

// dueDays writes what is due as "0me 1m".
func dueDays(first tracker.Date, occurrences []Occurrence) string {
	var words []string
	last := ""
	for _, o := range occurrences {
		if !o.Due() {
			continue
		}
		if day := strconv.Itoa(int(o.Day - first)); day != last {
			words, last = append(words, day), day
		}
		words[len(words)-1] += o.Slot.Name[:1]
	}
	return strings.Join(words, " ")
}

func TestExpandVectors(t *testing.T) {
	for _, row := range vectorRows(t, "phases.txt", 5) {
		var slots []tracker.Slot
		for letter := range strings.SplitSeq(row[0], " ") {
			slots = append(slots, slotNamed(letter[0]))
		}
		first, at, _ := strings.Cut(row[1], " ")
		step := PlanStep{ID: "wash", Start: date(t, first), Phases: parsePhases(t, row[2])}
		if at != "" {
			step.StartAt = slotNamed(at[0]).At
		}
		from, to, _ := strings.Cut(row[3], "-")
		got, err := Expand([]PlanStep{step}, slots, nil, step.Start+tracker.Date(number(t, from)), step.Start+tracker.Date(number(t, to)))
		if err != nil {
			t.Fatalf("%s: %v", row[2], err)
		}
		if due := dueDays(step.Start, got); due != row[4] {
			t.Errorf("%s from %s:\n got %s\nwant %s", row[2], row[1], due, row[4])
		}
		// The same span in two halves is the same plan.
		middle := step.Start + tracker.Date(number(t, to))/2
		front, _ := Expand([]PlanStep{step}, slots, nil, step.Start, middle)
		back, _ := Expand([]PlanStep{step}, slots, nil, middle+1, step.Start+tracker.Date(number(t, to)))
		if diff := cmp.Diff(got, append(front, back...)); diff != "" {
			t.Errorf("%s: in one and in two parts differ:\n%s", row[2], diff)
		}
	}
}

// TestExpandBySecondRoute lays phases out one after the other, emitting their days instead of asking each
// day, and compares.
func TestExpandBySecondRoute(t *testing.T) {
	seed := uint64(714)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	for range 2000 {
		step := PlanStep{ID: "s", Start: tracker.NewDate(2026, 1, 1) + tracker.Date(random.IntN(400))}
		var want []string
		begin := step.Start
		for range 1 + random.IntN(4) {
			every, length := 1+random.IntN(4), 1+random.IntN(20)
			slots := threeSlots[random.IntN(2) : 2+random.IntN(2)]
			phase := Phase{Days: Days{Every: every}, End: End{Kind: AfterDays, Count: length}}
			for _, s := range slots {
				phase.Slots = append(phase.Slots, s.Name)
			}
			switch random.IntN(4) {
			case 0:
				phase.End = End{Kind: OnDate, Date: begin + tracker.Date(length) - 1}
			case 1:
				phase.End = End{Kind: UntilVetSays, Date: begin + tracker.Date(length)}
			}
			for day := begin; day < begin+tracker.Date(length); day += tracker.Date(every) {
				for _, s := range slots {
					want = append(want, fmt.Sprint(day, s.Name))
				}
			}
			begin += tracker.Date(length)
			step.Phases = append(step.Phases, phase)
		}
		all, err := Expand([]PlanStep{step}, threeSlots, nil, step.Start-5, begin+5)
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, o := range all {
			if o.Due() {
				got = append(got, fmt.Sprint(o.Day, o.Slot.Name))
			}
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Fatalf("%s from %s (-want +got):\n%s", step, step.Start, diff)
		}
	}
}

// TestExpandFromLater asks for the days from the start on and for those from a later day on, which passes over the
// days between: the two must agree on what they share.
func TestExpandFromLater(t *testing.T) {
	seed := uint64(715)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 1))
	for range 3000 {
		step := PlanStep{ID: "s", Horse: "h", Start: tracker.NewDate(2026, 1, 1) + tracker.Date(random.IntN(400)), StartAt: tracker.MinuteOfDay(random.IntN(1440))}
		for begin := step.Start; len(step.Phases) < 1+random.IntN(4); begin += 12 {
			phase := Phase{Times: 1 + random.IntN(3), Days: Days{Every: 1 + random.IntN(4)}, End: End{Kind: AfterDays, Count: 1 + random.IntN(20)}}
			switch random.IntN(5) {
			case 0:
				phase.End = End{Kind: OnDate, Date: begin + tracker.Date(random.IntN(20))}
			case 1:
				phase.End = End{Kind: UntilVetSays, Date: begin + tracker.Date(random.IntN(20))}
			case 2:
				phase.End = End{Kind: AfterTimes, Count: 1 + random.IntN(15)}
			case 3:
				phase.Days = Days{On: Weekdays(1 + random.IntN(127))}
			}
			step.Phases = append(step.Phases, phase)
		}
		if random.IntN(3) == 0 {
			step.Phases[len(step.Phases)-1].End = End{Kind: UntilVetSays}
		}
		away := step.Start + tracker.Date(random.IntN(40))
		absences := []Absence{{Horse: "h", Span: Span{From: away, To: away + tracker.Date(random.IntN(6))}}}
		from, to := step.Start-3, step.Start+90
		all, err := Expand([]PlanStep{step}, threeSlots, absences, from, to)
		if err != nil {
			continue // phases that cannot follow one another: their refusals have a test of their own
		}
		late := from + tracker.Date(random.IntN(90))
		got, err := Expand([]PlanStep{step}, threeSlots, absences, late, to)
		if err != nil {
			t.Fatal(err)
		}
		all = slices.DeleteFunc(all, func(o Occurrence) bool { return o.Day < late })
		if diff := cmp.Diff(all, got); diff != "" {
			t.Fatalf("%s from %s, asked from %s (-from the start +from later):\n%s", step, step.Start, late, diff)
		}
	}
}

// TestExpandReasons says why a step is due or not, with a horse away and the yard closed.
func TestExpandReasons(t *testing.T) {
	first := date(t, "2026-05-14")
	wash := PlanStep{ID: "wash", Horse: "bramble", Start: first, StartAt: 12 * 60, Phases: parsePhases(t, "m 2 for 6d, me 1 3x")}
	walk := PlanStep{ID: "walk", Horse: "tom", Start: first + 1, Phases: parsePhases(t, "e 1 to 2026-05-20")}
	away := []Absence{
		{Horse: "bramble", Span: Span{first + 4, first + 5}},
		{Span: Span{first + 2, first + 2}},
	}
	all, err := Expand([]PlanStep{wash, walk}, []tracker.Slot{threeSlots[2], threeSlots[0]}, away, first, first+8)
	if err != nil {
		t.Fatal(err)
	}
	got := map[string]Reason{}
	for _, o := range all {
		got[fmt.Sprint(o.Step, " ", int(o.Day-first), o.Slot.Name[:1])] = o.Why
	}
	want := map[string]Reason{
		"wash 0m": PlanNotBegun, "wash 0e": NotThisSlot, "wash 1m": NotThisDay, "wash 1e": NotThisDay,
		"wash 2m": YardClosed, "wash 2e": NotThisSlot, "wash 3m": NotThisDay, "wash 3e": NotThisDay,
		"wash 4m": HorseAway, "wash 4e": NotThisSlot, "wash 5m": NotThisDay, "wash 5e": NotThisDay,
		"wash 6m": DueByPlan, "wash 6e": DueByPlan, "wash 7m": DueByPlan, "wash 7e": PhaseOver,
		"wash 8m": PlanOver, "wash 8e": PlanOver,
		"walk 0m": PlanNotBegun, "walk 0e": PlanNotBegun, "walk 1m": NotThisSlot, "walk 1e": DueByPlan,
		"walk 2m": NotThisSlot, "walk 2e": YardClosed, "walk 3m": NotThisSlot, "walk 3e": DueByPlan,
		"walk 4m": NotThisSlot, "walk 4e": DueByPlan, "walk 5m": NotThisSlot, "walk 5e": DueByPlan,
		"walk 6m": NotThisSlot, "walk 6e": DueByPlan, "walk 7m": PlanOver, "walk 7e": PlanOver,
		"walk 8m": PlanOver, "walk 8e": PlanOver,
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("reasons (-want +got):\n%s", diff)
	}
}

// TestTimesADay spreads times a day over the yard's slots: as many as asked for, the first always, the last
// from two on, and the same gaps whichever end one counts from, as nearly as whole slots allow.
func TestTimesADay(t *testing.T) {
	for slots := 1; slots <= MostPerDay; slots++ {
		for times := 1; times <= slots; times++ {
			var got []int
			for i := range slots {
				if (Phase{Times: times}).at(make([]tracker.Slot, slots), i) {
					got = append(got, i)
				}
			}
			if len(got) != times || got[0] != 0 || times > 1 && got[times-1] != slots-1 {
				t.Fatalf("%d times at %d slots: %v", times, slots, got)
			}
			for k := 1; k < times; k++ {
				if gap, even := got[k]-got[k-1], (slots-1)/(times-1); gap < even || gap > even+1 {
					t.Fatalf("%d times at %d slots: %v is not even", times, slots, got)
				}
				if off := got[k]*(times-1) - k*(slots-1); 2*off > times-1 || 2*off < -(times-1) {
					t.Fatalf("%d times at %d slots: %v is more than half a slot off", times, slots, got)
				}
			}
		}
	}
}

func TestPhaseWords(t *testing.T) {
	step := PlanStep{Phases: parsePhases(t, "2/day 1 for 7d, 1/day 1 for 14d, 1/day 2 closed")}
	if got, want := step.String(), "twice a day for 7 days, then once a day for 14 days, then every other day until closed over"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	for short, want := range map[string]string{
		"e 1 vet":               "evening every day until the vet says",
		"me mon,thu 10x":        "morning and evening on Mon, Thu 10 times in all",
		"3/day 2 for 1d":        "3 times a day every other day for 1 day",
		"1/day 7 to 2026-05-14": "every 7 days to the end of Thu 14 May",
	} {
		if got := parsePhase(t, short).String(); got != want {
			t.Errorf("%s: got %q, want %q", short, got, want)
		}
	}
}

func TestPlanRefusals(t *testing.T) {
	two := []tracker.Slot{threeSlots[0], threeSlots[2]}
	good := Phase{Times: 1, Days: Days{Every: 1}, End: End{Kind: AfterDays, Count: 7}}
	with := func(change func(*Phase)) PlanStep {
		p := good
		change(&p)
		return PlanStep{ID: "wash", Start: date(t, "2026-05-14"), Phases: []Phase{good, p}}
	}
	for words, step := range map[string]PlanStep{
		"no first day":                  {Phases: []Phase{good}},
		"no phase":                      {Start: date(t, "2026-05-14")},
		"3 times a day needs":           with(func(p *Phase) { p.Times = 3 }),
		"-1 times a day needs":          with(func(p *Phase) { p.Times = -1 }),
		"or tick the rounds":            with(func(p *Phase) { p.Times = 0 }),
		"say how many times":            with(func(p *Phase) { p.Slots = []string{"morning"} }),
		"no noon round":                 with(func(p *Phase) { p.Times, p.Slots = 0, []string{"noon"} }),
		"named twice":                   with(func(p *Phase) { p.Times, p.Slots = 0, []string{"evening", "evening"} }),
		"every 0 days":                  with(func(p *Phase) { p.Days.Every = 0 }),
		"every 367 days":                with(func(p *Phase) { p.Days.Every = 367 }),
		"choose one":                    with(func(p *Phase) { p.Days.On = 1 }),
		"a week has seven days":         with(func(p *Phase) { p.Days = Days{On: 0x80} }),
		"phase 2: the phase has no end": with(func(p *Phase) { p.End = End{} }),
		"the end comes after 0":         with(func(p *Phase) { p.End.Count = 0 }),
		"more than 100 years away":      with(func(p *Phase) { p.End.Count = 36601 }),
		"the end has no date":           with(func(p *Phase) { p.End = End{Kind: OnDate} }),
		"phase 2 ends on Wed 20 May":    with(func(p *Phase) { p.End = End{Kind: OnDate, Date: date(t, "2026-05-20")} }),
	} {
		if err := step.Check(two); err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("want a refusal with %q, got %v", words, err)
		}
		if _, err := Expand([]PlanStep{step}, two, nil, step.Start, step.Start+1); err == nil {
			t.Errorf("%q: Expand takes what Check refuses", words)
		}
	}
	if err := with(func(*Phase) {}).Check(two); err != nil {
		t.Errorf("a plan that can be kept is refused: %v", err)
	}
}

func TestSizeDue(t *testing.T) {
	last := date(t, "2026-05-14")
	for every, want := range map[int]string{0: " 1234567", 1: " 1234567", 2: "  234567", 7: "       7"} {
		got := ""
		for d := range 8 {
			if SizeDue(every, last, last+tracker.Date(d)) {
				got += strconv.Itoa(d)
			} else {
				got += " "
			}
		}
		if got != want {
			t.Errorf("every %d days: due on days %q after the last, want %q", every, got, want)
		}
	}
	if !SizeDue(7, 0, last) {
		t.Error("a site that was never measured is due")
	}
	if SizeDue(1, last+3, last) {
		t.Error("a size from a clock that was ahead must not make another due")
	}
}

func TestWeekdays(t *testing.T) {
	got, err := ParseWeekdays("Thursday, mon,SUN")
	if err != nil || got.String() != "mon,thu,sun" {
		t.Errorf("got %q, %v", got, err)
	}
	for _, bad := range []string{"", "mon,", "mo", "mon thu", "mon,mon", "mondays"} {
		if _, err := ParseWeekdays(bad); err == nil {
			t.Errorf("%q is taken", bad)
		}
	}
	if weekend := NewWeekdays(0, 6); !weekend.Has(6) || weekend.Has(5) {
		t.Error("a set of days has what it was made of and nothing else")
	}
}
