package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math/big"
	"strings"

	"github.com/urfave/cli/v3"

	"leground/tracker"
	"leground/tracker/mixing"
)

// The exit codes of leground mix.
const (
	mixBadInput = 2 // what was typed cannot be read, or has two readings
	mixRefused  = 3 // a rule refuses the mix
)

const mixHelp = `Work out a dilution from the strength on the bottle's label, with the working.

Strengths are a number and a unit: % w/v, % w/w, % v/v, mg/mL, g/L, mg/g, ppm w/v, units/g. "1 in 40" and
"1 part plus 40" of the bottle may be wanted too; a ratio with a colon has two meanings and is refused.
Volumes are in mL or L. Either decimal mark will do; 1.500 and 1,500 are asked about.

   leground mix -of "chlorhexidine gluconate" -have "2% w/v" -want "0.05% w/v" -make "1 L" -device "20 mL syringe, 1 mL marks"

` + mixing.Deference + `
Exit codes: 0 worked out, 2 cannot be read, 3 refused.`

// mixCommand is "leground mix": the arithmetic of one dilution, for people and for programs.
func mixCommand() *cli.Command {
	text := func(name, usage string) cli.Flag { return &cli.StringFlag{Name: name, Usage: usage} }
	return &cli.Command{
		Name:        "mix",
		Usage:       "work out a dilution from the bottle's label",
		Description: mixHelp,
		Flags: []cli.Flag{
			text("of", `what the label's strength counts, with its salt; "anything" for a substance without rules of its own`),
			text("have", `strength on the bottle, like "2% w/v"`),
			text("want", `strength wanted, like "0.05% w/v"`),
			text("want-of", "what the wanted strength counts, when that is another salt or form"),
			text("make", `volume to make up to, like "1 L"; with -add the volume of water to add to`),
			&cli.BoolFlag{Name: "add", Usage: "add the concentrate to the volume of -make"},
			text("left", "volume left in the bottle: how much does it make?"),
			text("device", `what measures the concentrate, like "20 mL syringe, 1 mL marks"; without it nothing is rounded`),
			text("density", `density of what is in the bottle, like "1.06 g/mL", for strengths by weight`),
			&cli.BoolFlag{Name: "json", Usage: "print one JSON object"},
		},
		OnUsageError: func(_ context.Context, _ *cli.Command, err error, _ bool) error {
			return cli.Exit("mix: "+err.Error(), mixBadInput)
		},
		Action: runMix,
	}
}

// runMix reads the flags, works the mix out and prints it.
func runMix(_ context.Context, cmd *cli.Command) error {
	result, err := mixResult(cmd)
	if err != nil {
		return cli.Exit("mix: "+err.Error(), mixBadInput)
	}
	if cmd.Bool("json") {
		err = printMixJSON(cmd.Root().Writer, result)
	} else if !result.Refused() {
		err = printMix(cmd.Root().Writer, result)
	}
	if err != nil || !result.Refused() {
		return err
	}
	lines := []string{"mix: refused"}
	for _, n := range result.Refusals {
		lines = append(lines, n.ID+"  "+n.Text)
	}
	return cli.Exit(strings.Join(append(lines, result.Offers...), "\n"), mixRefused)
}

// mixResult gives the mix that the flags ask for. A flag that a rule refuses is a refused mix, except
// that a number with two readings is an error with the question, as is all that cannot be read.
func mixResult(cmd *cli.Command) (*mixing.Result, error) {
	request, err := mixRequest(cmd)
	if err == nil {
		return mixing.Mix(request), nil
	}
	if note, ok := mixing.AsNote(err); ok && note.ID != "R6" {
		return &mixing.Result{Refusals: []mixing.Note{note}, Working: []mixing.Line{{Part: mixing.Stop, Text: note.Text}}}, nil
	}
	return nil, err
}

// mixRequest turns the flags into a request. Its errors name the flag, except refusals by a rule.
func mixRequest(cmd *cli.Command) (mixing.Request, error) {
	r := mixing.Request{Kind: mixing.MakeUpTo, Mark: tracker.Point}
	for _, name := range []string{"of", "have", "want"} {
		if cmd.String(name) == "" {
			return r, fmt.Errorf("say -%s; see leground mix -help", name)
		}
	}
	amountFlag, err := mixKind(cmd, &r)
	if err != nil {
		return r, err
	}
	of, err := mixing.FindSubstance(cmd.String("of"))
	if err != nil {
		return r, flagError("of", err)
	}
	wantOf := of
	if name := cmd.String("want-of"); name != "" {
		if wantOf, err = mixing.FindSubstance(name); err != nil {
			return r, flagError("want-of", err)
		}
	}
	if r.Stock.Label, err = mixing.ParseStrength(cmd.String("have"), of); err != nil {
		return r, flagError("have", err)
	}
	if r.Want, r.ByParts, err = mixing.ParseWant(cmd.String("want"), r.Stock.Label, wantOf); err != nil {
		return r, flagError("want", err)
	}
	if r.Amount, err = mixing.ParseAmount(cmd.String(amountFlag)); err != nil {
		return r, flagError(amountFlag, err)
	}
	if r.Amount.Unit != mixing.ML {
		return r, fmt.Errorf("-%s is a volume in mL or L, like \"500 mL\"", amountFlag)
	}
	if text := cmd.String("density"); text != "" {
		if r.Stock.Density, err = mixing.ParseDensity(text); err != nil {
			return r, flagError("density", err)
		}
	}
	if text := cmd.String("device"); text != "" {
		device, err := mixing.ParseDevice(text)
		if err != nil {
			return r, flagError("device", err)
		}
		r.Devices = []mixing.Device{device}
	}
	return r, nil
}

// mixKind reads which way round the mix is asked for, and names the flag that holds the amount.
func mixKind(cmd *cli.Command, r *mixing.Request) (amountFlag string, err error) {
	if cmd.Args().Present() {
		return "", fmt.Errorf("%q is not a flag; put a value with spaces in quotes", cmd.Args().First())
	}
	left, volume := cmd.String("left") != "", cmd.String("make") != ""
	switch {
	case left && (volume || cmd.Bool("add")):
		return "", fmt.Errorf("-left says how much can be made: leave -make and -add out")
	case left:
		r.Kind = mixing.UseUp
		return "left", nil
	case !volume:
		return "", fmt.Errorf("say -make with a volume, or -left with what is left in the bottle")
	case cmd.Bool("add"):
		r.Kind = mixing.AddTo
	}
	return "make", nil
}

// flagError says which flag an error is about.
func flagError(name string, err error) error { return fmt.Errorf("-%s: %w", name, err) }

// mixNote is a warning or a refusal in JSON.
type mixNote struct {
	ID   string `json:"id"`
	Text string `json:"text"`
}

// mixStrength is a strength in JSON, in the unit of -want.
type mixStrength struct {
	Value json.Number `json:"value"`
	Unit  string      `json:"unit"`
	Of    string      `json:"of"`
}

// mixObject is what -json prints. A refusal leaves the amounts null.
type mixObject struct {
	ConcentrateML *json.Number `json:"concentrate_ml"`
	DiluentML     *json.Number `json:"diluent_ml"`
	TotalML       *json.Number `json:"total_ml"`
	ExactML       *string      `json:"exact_concentrate_ml"`
	Achieved      *mixStrength `json:"achieved"`
	RelativeError *json.Number `json:"relative_error"`
	Working       []string     `json:"working"`
	Warnings      []mixNote    `json:"warnings"`
	Refusals      []mixNote    `json:"refusals"`
}

func printMixJSON(w io.Writer, result *mixing.Result) error {
	o := mixObject{Working: []string{}, Warnings: mixNotes(result.Warnings), Refusals: mixNotes(result.Refusals)}
	for _, line := range result.Working {
		o.Working = append(o.Working, line.Text)
	}
	if !result.Refused() {
		exact := result.Exact.Value.RatString()
		o.ConcentrateML, o.DiluentML = decimal(result.Concentrate.Value), decimal(result.Diluent.Value)
		o.TotalML, o.ExactML, o.RelativeError = decimal(result.Total.Value), &exact, decimal(result.RelativeError)
		a := result.Achieved
		o.Achieved = &mixStrength{*decimal(a.Value), a.Unit.String(), string(a.Of)}
	}
	encoder := json.NewEncoder(w)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	return encoder.Encode(o)
}

func mixNotes(notes []mixing.Note) []mixNote {
	list := []mixNote{}
	for _, n := range notes {
		list = append(list, mixNote{n.ID, n.Text})
	}
	return list
}

// decimal writes a fraction as a decimal number: in full when it ends, else to 17 significant digits.
func decimal(r *big.Rat) *json.Number {
	places, ends := r.FloatPrec()
	if !ends || places > 40 {
		places = 17
		for size := new(big.Rat).Abs(r); size.Sign() > 0 && size.Cmp(big.NewRat(1, 10)) < 0; places++ {
			size.Mul(size, big.NewRat(10, 1))
		}
	}
	n := json.Number(r.FloatString(places))
	return &n
}

// printMix prints the working under its headings, then what wants a tick.
func printMix(w io.Writer, result *mixing.Result) error {
	var b strings.Builder
	var part mixing.Part
	for _, line := range result.Working {
		if line.Part != part {
			part = line.Part
			fmt.Fprintln(&b, part.Heading())
		}
		fmt.Fprintln(&b, "  "+line.Text)
	}
	for _, n := range result.Warnings {
		fmt.Fprintln(&b, n.ID+"  "+n.Text)
	}
	for _, offer := range result.Offers {
		fmt.Fprintln(&b, "  "+offer)
	}
	fmt.Fprintln(&b, mixing.Deference)
	_, err := io.WriteString(w, b.String())
	return err
}
