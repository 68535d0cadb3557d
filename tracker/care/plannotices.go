package care

import (
	"fmt"
	"strings"

	"leground/tracker"
	"leground/tracker/rounds"
)

// planNotices tells of what plans make due on a day and not at a round, of plans that end, and of what is due once.
func (d *desk) planNotices() (out []notice, err error) {
	for _, n := range d.calendar().Notices(d.Now) {
		one := notice{Notice: n.Notice, link: "/due?day=" + n.Day.String()}
		if n.Horse != "" {
			one.horses = []tracker.HorseID{n.Horse}
		}
		one.title, one.brief, one.lines = d.planNoticeWords(n)
		if n.Kind == rounds.PlanEnding {
			one.link = "/plan/" + string(n.Plan.ID)
		}
		out = append(out, one)
	}
	return out, nil
}

func (d *desk) planNoticeWords(n rounds.PlanNotice) (title, brief string, lines []string) {
	day := tracker.DayName(n.Day)
	switch n.Kind {
	case rounds.TrimComing:
		name := d.nameOf(n.Horse)
		return name + ": trim on " + day, "A trim on " + day, []string{fmt.Sprintf("The feet of %s are due for a trim on %s. Ask your farrier.", name, day)}
	case rounds.WeighDue:
		name := d.nameOf(n.Horse)
		return name + ": weigh on " + day, "To weigh on " + day, []string{fmt.Sprintf("%s is due to be weighed on %s.", name, day)}
	case rounds.PlanEnding:
		name := d.nameOf(n.Horse)
		return "A plan of " + name + " ends on " + day, "A plan ends on " + day, []string{fmt.Sprintf("The plan of %s for %s ends on %s. Ask whoever set it what comes next.", name, ForWords(*n.Plan, d.sites), day)}
	}
	what := n.OneOff.What
	if n.Horse != "" {
		what = d.nameOf(n.Horse) + ": " + tracker.Small(what)
	}
	if n.OneOff.Timed {
		day += ", " + n.OneOff.At.String()
	}
	brief = map[tracker.OneOffKind]string{tracker.VetComes: "The vet comes, ", tracker.FarrierComes: "The farrier comes, ", tracker.OtherOnce: "Due once, "}[n.OneOff.Kind] + day
	return what + ", " + day, brief, []string{what + ", " + day + "."}
}

// careOn says what plans ask for on a leg at a round, to follow what is open there: ". Wash, dry.".
func careOn(asked []rounds.Asked, horse tracker.HorseID, leg tracker.Leg) string {
	var words []string
	for _, a := range asked {
		if a.Plan.Horse != horse || a.Leg != leg {
			continue
		}
		word := tracker.StepName(a.Step.Kind)
		if a.Step.Kind == tracker.StepApply {
			word = "Put on " + a.Step.Of
		}
		if len(words) > 0 {
			word = tracker.Small(word)
		}
		words = append(words, word)
	}
	if len(words) == 0 {
		return ""
	}
	return ". " + strings.Join(words, ", ") + "."
}

// horseAsks says what plans ask for on whole horses at a round, a line each.
func (d *desk) horseAsks(asked []rounds.Asked) (lines []string) {
	for _, a := range asked {
		if a.Leg == 0 {
			lines = append(lines, d.nameOf(a.Plan.Horse)+": "+d.wordsFor(*a.Plan, a.Step)+".")
		}
	}
	return lines
}
