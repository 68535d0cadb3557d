package main

import (
	"fmt"
	"io"
	"net"
	"strings"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/cautions"
)

// printBoard writes the Board as text, for a terminal.
func printBoard(w io.Writer, v care.BoardView) {
	if v.Yard.MadeUp {
		fmt.Fprintln(w, "MADE-UP YARD: nothing here is real")
	}
	fmt.Fprintf(w, "%s   %s, %s round\n", strings.ToUpper(v.Yard.Name), tracker.DayName(v.Today), v.Round.Slot)
	slabs, lines := cautions.Slabs(v.Cautions, v.Now)
	for _, c := range slabs {
		fmt.Fprintf(w, "\n%s. %s: %s\n  %s\n", strings.ToUpper(tracker.LevelName(c.Level)), v.Names[c.Horse], c.Words(), c.Next)
	}
	if len(slabs) > 0 {
		fmt.Fprintf(w, "  Number to ring: %s\n  %s\n", orNone(v.Yard.RingNumber), cautions.NotADiagnosis)
	}
	for _, c := range lines {
		fmt.Fprintf(w, "%s: %s, %s\n", tracker.LevelName(c.Level), v.Names[c.Horse], c.Words())
	}
	fmt.Fprintf(w, "\n%d of %d looks of this round recorded.\n", v.Done, v.Of)
	for _, r := range v.Missed {
		fmt.Fprintf(w, "%s, %s round: no record.\n", tracker.DayName(r.Day), r.Slot)
	}
	for _, h := range v.Horses {
		fmt.Fprintf(w, "\n%s", strings.ToUpper(h.Horse.Name))
		if h.Isolated {
			fmt.Fprint(w, "  (in isolation: own kit, wash hands)")
		}
		fmt.Fprintln(w)
		for _, leg := range h.Horse.OrderIn(v.Yard) {
			for _, post := range h.Legs {
				if post.Leg == leg {
					printLeg(w, v, post)
				}
			}
		}
	}
}

func printLeg(w io.Writer, v care.BoardView, leg care.BoardLeg) {
	if len(leg.Sites) == 0 {
		fmt.Fprintf(w, "  %s   nothing open\n", leg.Leg)
	}
	for _, s := range leg.Sites {
		label := "not judged yet"
		if s.Judgement != nil {
			label = s.Judgement.Label
		}
		fmt.Fprintf(w, "  %-5s%-44s%s\n", s.Site.Tag(), tracker.SiteName(s.Site, v.Yard.LegWords), label)
	}
}

func orNone(text string) string {
	if text == "" {
		return "none yet"
	}
	return text
}

// freeAddress gives the address, or one with a free port where its port is taken.
func freeAddress(wanted string) string {
	for _, address := range []string{wanted, "127.0.0.1:0"} {
		if listener, err := net.Listen("tcp", address); err == nil {
			defer listener.Close()
			return listener.Addr().String()
		}
	}
	return wanted
}
