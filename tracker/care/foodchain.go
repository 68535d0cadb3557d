package care

import (
	"leground/tracker"
	"leground/tracker/mixing"
)

// minded tells whether a product must not go unnoticed on a horse that may be eaten: its own note says so, or it is a
// prescription medicine.
func minded(product tracker.Product) bool {
	return product.Facts.FoodNote != "" || product.Facts.Prescription
}

// foodWords warns of the food chain in the words in which a mix is warned of, where what a step puts on a horse or gives
// it wants that: unless the horse is known to be out of the food chain. A medicine by weight always does.
func (st yardState) foodWords(horse tracker.Horse, step tracker.PlanStep) string {
	if horse.Food == tracker.NotForFood {
		return ""
	}
	if step.Kind == tracker.StepGive {
		return mixing.FoodChainWords
	}
	for _, p := range st.products {
		if p.ID == step.Product && minded(p) {
			return mixing.FoodChainWords
		}
	}
	return ""
}
