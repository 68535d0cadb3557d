package care

import (
	"cmp"
	"context"
	"time"

	"leground/tracker"
)

// PlannedMix is a wash that a plan asks for today, and how it is made now.
type PlannedMix struct {
	Horse  string
	Words  string
	Doubt  string // that nobody has read the plan back; empty: somebody has
	Ask    MixAsk // what the page for mixing starts from
	Worked *WorkedMix
}

// PlannedMixes lists the washes that plans ask for today, by horse in walking order, each step once.
func (s *Service) PlannedMixes(ctx context.Context, a Actor) ([]PlannedMix, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (out []PlannedMix, err error) {
		st, e1 := readYard(tx, a, now)
		shelf, e2 := readStores(tx, a, now)
		if err := cmp.Or(e1, e2); err != nil {
			return nil, err
		}
		asked, _ := st.ask(st.Today, st.Today) // the Due list says which plans are in trouble
		for _, horse := range st.horses {
			seen := map[string]bool{}
			for _, t := range asked {
				if t.Plan.Horse != horse.ID || t.Step.Kind != tracker.StepWash || t.Step.Strength == "" || seen[t.Step.ID] {
					continue
				}
				seen[t.Step.ID] = true
				wanted, err := mixWanted(t)
				if err != nil {
					return nil, err
				}
				worked := shelf.worked(wanted)
				out = append(out, PlannedMix{Horse: horse.Name, Words: st.wordsFor(*t.Plan, t.Step), Doubt: doubtOf(*t.Plan, shelf.names), Ask: mixAskOf(t, st.Yard.Mark), Worked: &worked})
			}
		}
		return out, nil
	})
}
