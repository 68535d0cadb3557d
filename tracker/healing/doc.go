// Package healing judges how a site goes: the size, rate and label of a wound, the signs of a patch.
//
// A wrong "closing" delays a vet, a wrong "widening" teaches people to ignore us. So every label comes
// with its reason, its numbers, the days used and the smallest rate that these measurements could show,
// and every page, caution and command takes it from the same two functions, Judge and JudgePatch.
package healing
