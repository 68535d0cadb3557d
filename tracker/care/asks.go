package care

import (
	"slices"

	"leground/tracker"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// LegAsk is one thing that a plan asks for in this round: on a leg line the care of the leg, on a horse what is for
// all of it.
type LegAsk struct {
	Step    tracker.PlanStep
	Words   string
	Plan    tracker.RecordID // the version
	Done    bool
	Skipped bool
	Doubt   string     // that nobody has read the plan back; empty: somebody has
	Worked  *WorkedMix // of a wash that is mixed: how, for the yard's usual volumes
	Mix     MixAsk     // what the page for mixing starts from; none: nothing is mixed
	Dose    []string   // the working of a medicine by weight
	Food    string     // the warning about the food chain; empty: none, or the worked mix says it
}

// asker works out what plans ask for in the round that is on.
type asker struct {
	st     yardState
	people map[tracker.PersonID]string
	asked  []rounds.Asked
	worked map[string]*WorkedMix // by step
}

// newAsker reads what legs are asked about. Stores is read only when a wash is to be mixed.
func newAsker(tx Tx, a Actor, st yardState, people map[tracker.PersonID]string) (*asker, error) {
	out := &asker{st: st, people: people, asked: st.askedIn(st.round), worked: map[string]*WorkedMix{}}
	if len(out.asked) > 0 {
		var err error
		if out.st.products, err = tx.Products(); err != nil {
			return nil, err
		}
	}
	var shelf *stores
	for _, task := range out.asked {
		if task.Step.Kind != tracker.StepWash || task.Step.Strength == "" || out.worked[task.Step.ID] != nil {
			continue
		}
		if shelf == nil {
			var err error
			if shelf, err = readStores(tx, a, st.Now); err != nil {
				return nil, err
			}
		}
		wanted, err := mixWanted(task)
		if err != nil {
			return nil, err
		}
		worked := shelf.worked(wanted)
		out.worked[task.Step.ID] = &worked
	}
	return out, nil
}

// mixWanted says what a wash asks for of Stores.
func mixWanted(t rounds.Asked) (out MixWanted, err error) {
	out.Horse, out.Product, out.Use = t.Plan.Horse, t.Step.Product, mixing.Use{Skin: mixing.OpenSkin, VetOrder: t.Plan.Source == tracker.SetByVet, Bandage: covered(t.Plan)}
	if out.Want, err = Strength(t.Step.Strength); err != nil {
		return out, err
	}
	out.Ceiling, err = strengthOrNil(t.Step.Ceiling)
	return out, err
}

// covered tells whether a plan puts a bandage over what it washes.
func covered(p *tracker.Plan) bool {
	return slices.ContainsFunc(p.Steps, func(s tracker.PlanStep) bool { return s.Kind == tracker.StepBandage })
}

// of lists what is asked for on a leg; of the whole horse with no leg.
func (k *asker) of(horse tracker.HorseID, leg tracker.Leg) []LegAsk {
	var out []LegAsk
	for _, a := range k.asked {
		if a.Plan.Horse != horse || a.Leg != leg {
			continue
		}
		state := recordedOf(a, k.st.recent, k.st.ticks)
		ask := LegAsk{Step: a.Step, Words: k.st.wordsFor(*a.Plan, a.Step), Plan: a.Plan.ID, Done: state.Done, Skipped: state.Skipped, Doubt: doubtOf(*a.Plan, k.people), Worked: k.worked[a.Step.ID]}
		if ask.Worked != nil {
			ask.Mix = mixAskOf(a, k.st.Yard.Mark)
		}
		ask.Dose = k.st.doseFor(*a.Plan, a.Step)
		if i := k.st.horseAt(horse); i >= 0 && ask.Worked == nil {
			ask.Food = k.st.foodWords(k.st.horses[i], a.Step)
		}
		out = append(out, ask)
	}
	return out
}

// mixAskOf fills in the first step of a mix from a plan.
func mixAskOf(a rounds.Asked, mark tracker.DecimalMark) MixAsk {
	want, err := Strength(a.Step.Strength)
	if err != nil {
		return MixAsk{}
	}
	return MixAsk{Horse: a.Plan.Horse, Plan: a.Step.ID, Want: want.Echo(mark), WantOf: string(want.Of), Kind: mixing.MakeUpTo,
		Diluent: mixing.BoiledWater, Use: mixing.Use{Skin: mixing.OpenSkin, Bandage: covered(a.Plan)}}
}
