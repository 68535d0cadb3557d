package mixing

import "math/big"

// openNames are names that leave open what is counted.
var openNames = map[string][]string{
	"chlorhexidine":  {"chlorhexidine gluconate", "chlorhexidine acetate", "chlorhexidine base"},
	"iodine":         {"povidone-iodine", "available iodine", "iodine tincture"},
	"hypochlorite":   {"sodium hypochlorite", "available chlorine", "calcium hypochlorite"},
	"bleach":         {"sodium hypochlorite", "available chlorine"},
	"copper sulfate": {"copper sulfate pentahydrate", "copper sulfate anhydrous"},
	"zinc sulfate":   {"zinc sulfate heptahydrate", "zinc sulfate monohydrate", "zinc sulfate anhydrous"},
}

// gluconatePerBase and acetatePerBase are grams of salt that hold one gram of chlorhexidine base: by the
// molar masses of the United States Pharmacopeia's gluconate solution (897.77 and 505.48), acetate 625.6 from
// memory. Hydrates go by IUPAC abridged atomic weights. Sodium hypochlorite is 1.05 times its available chlorine (a handbook of hypochlorite terms).
var (
	gluconatePerBase = quo(frac(89777, 100), frac(50548, 100))
	acetatePerBase   = quo(frac(6256, 10), frac(50548, 100))
	chlorinePerBase  = frac(105, 100)
)

// substanceTable is everything known about each substance, with the source of each limit.
var substanceTable = map[Substance]substanceFacts{
	Anything: {family: anything},

	"chlorhexidine gluconate": {family: chlorhexidine, also: []string{"chlorhexidine digluconate"}, antiseptic: true,
		carries: gluconatePerBase, convert: throughBase, limits: chlorhexidineLimits(frac(5, 100))},
	"chlorhexidine acetate": {family: chlorhexidine, also: []string{"chlorhexidine diacetate"}, antiseptic: true,
		carries: acetatePerBase, convert: throughBase, limits: chlorhexidineLimits(frac(5, 100))},
	"chlorhexidine base": {family: chlorhexidine, also: []string{"chlorhexidine free base"}, antiseptic: true,
		carries: frac(1, 1), convert: throughBase, limits: chlorhexidineLimits(quo(frac(5, 100), gluconatePerBase))},

	"povidone-iodine": {family: iodine, also: []string{"povidone iodine", "iodopovidone"}, antiseptic: true, convert: byLabel,
		limits: iodineLimits(frac(1, 1))},
	"available iodine": {family: iodine, antiseptic: true, convert: byLabel, limits: iodineLimits(frac(1, 10))},
	"iodine tincture":  {family: tincture, also: []string{"tincture of iodine"}, antiseptic: true},

	"sodium hypochlorite": {family: hypochlorite, antiseptic: true, carries: chlorinePerBase, convert: bothWays,
		limits: hypochloriteLimits(frac(1, 1))},
	"available chlorine": {family: hypochlorite, antiseptic: true, carries: frac(1, 1), convert: bothWays,
		limits: hypochloriteLimits(chlorinePerBase)},
	"calcium hypochlorite": {family: hypochlorite, antiseptic: true, limits: hypochloriteLimits(frac(1, 1))},

	"hydrogen peroxide": {family: peroxide, antiseptic: true},
	"acetic acid": {family: acid, also: []string{"vinegar"}, antiseptic: true, limits: []limit{{"W1", frac(2, 1),
		"Acetic acid above 2\u00a0g per 100\u00a0mL hurts, and above 5 it burns.", "acetic acid digest of Kramer, Sibbald and Agrawal", Law}}},
	"citric acid":     {family: acid},
	"phosphoric acid": {family: acid},

	SodiumChloride:   {family: saline, also: []string{"saline", "salt"}},
	MagnesiumSulfate: {family: magnesium},
	TapWater:         {family: hardWater, also: []string{"tap water", "hard water"}},

	"copper sulfate pentahydrate": {family: copper, carries: quo(frac(249677, 1000), frac(159602, 1000)), convert: bothWays},
	"copper sulfate anhydrous":    {family: copper, carries: frac(1, 1), convert: bothWays},
	"zinc sulfate heptahydrate":   {family: zinc, carries: quo(frac(287541, 1000), frac(161436, 1000)), convert: bothWays},
	"zinc sulfate monohydrate":    {family: zinc, carries: quo(frac(179451, 1000), frac(161436, 1000)), convert: bothWays},
	"zinc sulfate anhydrous":      {family: zinc, carries: frac(1, 1), convert: bothWays},
	"formalin":                    {family: formalin, also: []string{"formaldehyde"}},
	"copper naphthenate":          {family: naphthenate},
	DimethylSulfoxide:             {family: dmso, also: []string{"dmso", "dimethyl sulfoxide gel"}},
	"tea tree oil":                {family: essentialOil, also: []string{"essential oil", "melaleuca oil"}},

	"ethanol":                  {family: alcohol, also: []string{"alcohol", "surgical spirit"}, antiseptic: true},
	"isopropyl alcohol":        {family: alcohol, also: []string{"isopropanol", "2-propanol"}, antiseptic: true},
	"ammonia":                  {family: ammonia, also: []string{"urine"}},
	"soap or shampoo":          {family: soap, also: []string{"soap", "shampoo", "detergent"}},
	"another cleaner":          {family: cleaner},
	"silver sulfadiazine":      {family: silver, also: []string{"silver", "silver nitrate"}, antiseptic: true},
	"sodium bicarbonate":       {family: alkali, also: []string{"alkali"}},
	"tannic acid":              {family: tannin},
	"taurolidine":              {family: taurolidine, antiseptic: true},
	"enzyme debrider":          {family: enzyme},
	"octenidine":               {family: octenidine, also: []string{"octenidine dihydrochloride"}, antiseptic: true},
	"metal container or spoon": {family: metal, also: []string{"metal"}},
}

func chlorhexidineLimits(open *big.Rat) []limit {
	return []limit{{"W1", open, "Chlorhexidine this strong harms cells in open skin. The usual most is 0.05\u00a0g per 100\u00a0mL.",
		"Veterinary Surgery 1988, volume 17, page 291 (dogs) and 1991, volume 20, page 306 (equine cells)", Law}}
}

func iodineLimits(open *big.Rat) []limit {
	return []limit{{"W1", open, "Iodine this strong harms cells in open skin. The usual most is 1\u00a0g of povidone-iodine per 100\u00a0mL.",
		"Lineaweaver and others 1985; Sanchez and others 1988", Law}}
}

// hypochloriteLimits are stated for sodium hypochlorite and scaled by the grams of it per gram of what
// the strength counts.
func hypochloriteLimits(perGram *big.Rat) []limit {
	return []limit{
		{"R13", quo(frac(5, 10), perGram), "Hypochlorite above 0.5\u00a0g per 100\u00a0mL is never put on skin or a wound.",
			"Lineaweaver and others 1985; hospital hypochlorite recipe (full strength 0.5%)", Law},
		{"W1", quo(frac(125, 1000), perGram), "Hypochlorite this strong harms open skin. The usual most is 0.125\u00a0g per 100\u00a0mL.",
			"hospital hypochlorite recipe; antiseptic toxicity comparison", Handbook},
		{"W17", quo(frac(1, 100), perGram), "Hypochlorite this weak did not kill reliably in the laboratory.",
			"Rutala and others 1998, chlorine stability", Law},
	}
}
