package seed

import (
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

// The made-up yard washes with a bottle that both people read, 10 mL of it each morning from day 15 on but for
// the missed day: 14 times by day 29, so that 860 mL of 1 L are left. One mix, of the last morning, is not
// thrown away.
func TestStores(t *testing.T) {
	y := play(t, time.Date(2026, 5, 15, 9, 0, 0, 0, time.UTC))
	view, err := y.Stores(t.Context(), y.ada)
	if err != nil {
		t.Fatal(err)
	}
	if len(view.Products) != 1 || len(view.Products[0].Bottles) != 1 {
		t.Fatalf("%d products", len(view.Products))
	}
	bottle := view.Products[0].Bottles[0]
	left := strings.Join(strings.Fields(bottle.Left.Words(tracker.Point)), " ")
	if bottle.Name != "Wash concentrate A" || bottle.ReadWords != "read by Ada and Bea" || left != "860 mL" || bottle.Stop != "" {
		t.Errorf("%s, %s, %s left, %q", bottle.Name, bottle.ReadWords, left, bottle.Stop)
	}
	words := strings.Join(strings.Fields(view.Products[0].Supply.Words(tracker.Point)), " ")
	// 10 mL on each of the next mornings: 6 before a delivery in 7 days, 86 in all, the first tomorrow.
	if words != "860 mL left that may be used: enough for 87 days. By the plans about 60 mL go in the 7 days until a delivery comes." {
		t.Errorf("supply: %s", words)
	}
	if len(view.Mixes) != 1 || view.Mixes[0].Left.Words(tracker.Point) == "" {
		t.Errorf("%d mixes are there, want the last morning's", len(view.Mixes))
	}
}
