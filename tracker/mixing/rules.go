package mixing

import (
	"errors"
	"fmt"

	"leground/tracker"
)

// Grade says how good the source behind a rule is.
type Grade byte

// The grades of a source.
const (
	Law        Grade = 'A' // law, pharmacopoeia or a peer-reviewed paper
	Handbook   Grade = 'B' // textbook, hospital or agency handout, professional press
	WeakSource Grade = 'C' // general web or from memory
	OurOwn     Grade = 'D' // our own rule or common practice, no published source
)

// Rule is a reason to refuse or to warn. Rules whose id begins with R refuse without an override;
// those that begin with W want a tick.
type Rule struct {
	ID     string
	Means  string
	Source string
	Grade  Grade
}

// Refuses tells a refusal from a warning.
func (r Rule) Refuses() bool { return r.ID[0] == 'R' }

// ruleTable holds every rule. Where one rule draws on several sources, the Note of a particular
// substance or pair names its own.
var ruleTable = []Rule{
	{"R1", "A number, unit or basis is missing or cannot be, or the bottle is too weak.", ownArithmetic, OurOwn},
	{"R2", "Weight and volume cannot be turned into each other without a density.", "United States Pharmacopeia, general notices: percentage measurements", Law},
	{"R3", "Units of potency cannot be turned into weight.", "United States Pharmacopeia, bacitracin and nystatin monographs: potency in units", Law},
	{"R4", "Two strengths count different substances, salts or forms.", ownArithmetic, OurOwn},
	{"R5", "A colon ratio has two meanings.", "Institute for Safe Medication Practices, error-prone dose designations", Law},
	{"R6", "A number can be read two ways.", "BIPM, SI brochure, and the yard's own rule for typed numbers", OurOwn},
	{"R7", "Two products must not come together.", "named with each pair", OurOwn},
	{"R8", "The bottle or mix is past its time.", "the date on the label, or the time the mix was given", OurOwn},
	{"R9", "The label's parts are for the bottle as bought, not for a mix made from it.", ownArithmetic, OurOwn},
	{"R10", "Essential oil is never used undiluted.", "Khan and others 2014, tea tree oil in 443 dogs and cats", Law},
	{"R11", "Hydrogen peroxide stays out of punctures and closed wounds.", "Bassan and others 1982, oxygen embolism", Law},
	{"R12", "A prescription medicine needs the vet's recorded instruction and its maximum.", "21 CFR part 530 and part 524, section 660; Regulation (EU) 2019/6, articles 112 to 115", Law},
	{"R13", "Hypochlorite stronger than 0.5 g per 100 mL stays off skin and wounds.", "Lineaweaver and others 1985; hospital hypochlorite recipe (full strength 0.5%)", Law},
	{"R14", "Only plain bleach of known strength and age can be measured.", ownArithmetic, OurOwn},
	{"R15", "The measure makes it more than 5% stronger than wanted.", ownArithmetic, OurOwn},
	{"W1", "Strong for open skin.", "named with each substance", Law},
	{"W2", "Scrub or alcohol on open skin.", "Archives of Surgery 1982, volume 117, page 181 (detergent scrub); povidone-iodine alcoholic tincture, product text", Law},
	{"W3", "Near the eye, ear or face.", "Steinsapir and Woodward 2017, chlorhexidine keratitis; 21 CFR 524.463, copper naphthenate", Law},
	{"W4", "Near a joint, tendon sheath or puncture of the hoof.", "common practice, no source", OurOwn},
	{"W5", "Bandage over the product.", "Zhai and Maibach, occlusion and skin absorption", Law},
	{"W6", "Chlorhexidine may turn hazy in this water.", "compounding handbook answer on chlorhexidine digluconate, quoting a pharmacy reference", Handbook},
	{"W7", "Soap makes chlorhexidine useless.", "compounding handbook answer on chlorhexidine digluconate; paper on surfactants and residual activity", Handbook},
	{"W8", "Something that conflicts was put here in the last 24 hours.", "named with each pair", OurOwn},
	{"W9", "The measure makes it more than 5% weaker than wanted.", ownArithmetic, OurOwn},
	{"W10", "A spoon is not a measure.", "NIST household measures; a cholera guideline counts a tablespoon as 10 mL", Handbook},
	{"W11", "The weight is an estimate.", "Wagner and Tyler, weight estimates of 145 horses, as reported", Handbook},
	{"W12", "Iodine on a large wound, a foal, a pregnant mare, or for long.", "human label: povidone-iodine risk information and product text", Law},
	{"W13", "Not the strength of the last batch.", ownArithmetic, OurOwn},
	{"W14", "The recipe does not make the strength it claims.", ownArithmetic, OurOwn},
	{"W15", "The horse is not declared out of the food chain.", "Regulation (EU) 2019/6, articles 112 to 115; 21 CFR 524 and 530", Law},
	{"W16", "Diluted more than 24 hours ago.", "hospital infection-control list: aqueous antiseptic 24 hours once opened", Handbook},
	{"W17", "Weaker than has been found useful.", "named with each substance", Law},
	{"W18", "Too little for this measure to show well.", "United States Pharmacopeia, chapter 1176, in summary; Newton 2003, graduated cylinders", Law},
}

const ownArithmetic = "our own rule: the arithmetic cannot be trusted otherwise"

// Deference is said once on every page and print that shows a mix or a dose.
const Deference = "This is arithmetic, not advice. The vet, the label and local rules come first."

// FoodChainWords warn wherever something is mixed for a horse, put on it or given to it (W15).
const FoodChainWords = "This horse is not declared out of the food chain. Record date, substance and vet, and ask about withdrawal."

// Rules gives every rule, refusals first.
func Rules() []Rule { return append([]Rule(nil), ruleTable...) }

// Note is a rule that fired: words for people, with the source and the grade behind it. A Note that
// refuses is also an error.
type Note struct {
	ID     string
	Text   string
	Source string
	Grade  Grade
}

// Error gives the words.
func (n *Note) Error() string { return n.Text }

// AsNote gives the Note inside an error; the question about a number with two readings is R6.
func AsNote(err error) (Note, bool) {
	var note *Note
	if errors.As(err, &note) {
		return *note, true
	}
	var two *tracker.AmbiguousNumber
	if errors.As(err, &two) {
		return say("R6", "%s", two.Error()), true
	}
	return Note{}, false
}

// refuse makes the error of a refusal from a rule.
func refuse(id, format string, args ...any) error {
	note := say(id, format, args...)
	return &note
}

// say makes a Note with the source of its rule.
func say(id, format string, args ...any) Note {
	for _, r := range ruleTable {
		if r.ID == id {
			return Note{id, fmt.Sprintf(format, args...), r.Source, r.Grade}
		}
	}
	panic("mixing: no rule " + id)
}

// from gives the note another source than that of its rule.
func (n Note) from(source string, grade Grade) Note {
	n.Source, n.Grade = source, grade
	return n
}
