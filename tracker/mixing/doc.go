// Package mixing does the arithmetic between a bottle's label and the syringe in the hand: strengths,
// dilutions, amounts, and the rules that refuse or warn.
//
// Published recipes are often wrong, some by a factor of ten, so nothing here is looked up: an amount
// is always worked out from the strength on the label, and the working is part of the answer. All
// numbers are exact fractions. The only rounding is to a mark of the measure in hand, and what that
// rounding does to the strength is worked out backwards and shown.
//
// A strength carries what its number counts (chlorhexidine gluconate is not chlorhexidine acetate,
// povidone-iodine is not available iodine) and in what (grams in 100 mL or in 100 g). Two strengths
// that count different things are refused or converted by stated rules, never guessed.
//
// The main call is Mix, from a Request to a Result with amounts, working, warnings and refusals. A
// refusal has no override; a warning wants a tick. Both are Notes with the id of a Rule, words for
// people, and the published source and grade behind them. The package chooses no product and proposes
// no dose: strengths and doses come from a label or from the vet's recorded instruction.
//
// Words for people follow one style: amounts as "0.5 mL", strengths as "5 g per 100 mL" with "5% w/v"
// only as an echo of a label, no colon ratios, and sentences of at most 20 words.
package mixing
