package web

import (
	"fmt"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// AskPart is one thing that a plan asks for in the round, with how its wash is mixed for each usual volume.
type AskPart struct {
	care.LegAsk
	Volumes []AskVolume
}

// AskVolume is one usual volume and how it is made.
type AskVolume struct {
	Volume string
	care.Worked
}

func askParts(asks []care.LegAsk, mark tracker.DecimalMark) []AskPart {
	var out []AskPart
	for _, ask := range asks {
		part := AskPart{LegAsk: ask}
		if ask.Worked != nil {
			for _, w := range ask.Worked.Amounts {
				part.Volumes = append(part.Volumes, AskVolume{w.Volume.Words(mark), w})
			}
		}
		out = append(out, part)
	}
	return out
}

// Asks lists what plans ask for on the leg in this round.
func (f LegForm) Asks() []AskPart { return askParts(f.Leg.Asks, f.Base.Mark) }

// SoakUntil says how long the plan lets a soak that was started work: "By the plan it stays on for 10 minutes,
// until 07:50." It is empty without a plan that says so.
func (l RoundLeg) SoakUntil() string {
	minutes := l.contact()
	if minutes == 0 || l.Soak == nil {
		return ""
	}
	until := l.Soak.At.Add(time.Duration(minutes) * time.Minute)
	return fmt.Sprintf("By the plan it stays on for %s, until %s.", tracker.Count(minutes, "minute"), clockName(until, l.New.Base.Zone))
}

// SoakFor says on the button how long the plan asks for: ", 10 minutes".
func (l RoundLeg) SoakFor() string {
	if minutes := l.contact(); minutes > 0 {
		return ", " + tracker.Count(minutes, "minute")
	}
	return ""
}

// contact gives the longest contact time that plans ask for on the leg in this round.
func (l RoundLeg) contact() (minutes int) {
	for _, ask := range l.Line.Leg.Asks {
		if ask.Step.Kind == tracker.StepWash {
			minutes = max(minutes, ask.Step.Minutes)
		}
	}
	return minutes
}
