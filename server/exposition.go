package server

import (
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// family is a metric with its values by labels, written in Prometheus' text format 0.0.4. With bounds it is
// a histogram, else a counter.
type family struct {
	name, help string
	labels     []string
	bounds     []float64

	mu     sync.Mutex
	values map[string]*series // by the labels as they are written
}

type series struct {
	count   uint64
	sum     float64
	buckets []uint64 // of each bound, not added up
}

// add counts one thing, with its size where the family is a histogram.
func (f *family) add(size float64, labels ...string) {
	key := written(f.labels, labels)
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.values == nil {
		f.values = map[string]*series{}
	}
	s := f.values[key]
	if s == nil {
		s = &series{buckets: make([]uint64, len(f.bounds))}
		f.values[key] = s
	}
	s.count++
	s.sum += size
	if i, _ := slices.BinarySearch(f.bounds, size); i < len(f.bounds) {
		s.buckets[i]++
	}
}

// write writes the family.
func (f *family) write(w io.Writer) {
	f.mu.Lock()
	defer f.mu.Unlock()
	kind := "counter"
	if f.bounds != nil {
		kind = "histogram"
	}
	fmt.Fprintf(w, "# HELP %s %s\n# TYPE %s %s\n", f.name, f.help, f.name, kind)
	for _, key := range slices.Sorted(maps.Keys(f.values)) {
		s := f.values[key]
		if f.bounds == nil {
			fmt.Fprintf(w, "%s%s %d\n", f.name, braced(key), s.count)
			continue
		}
		below := uint64(0)
		for i, bound := range f.bounds {
			below += s.buckets[i]
			fmt.Fprintf(w, "%s_bucket%s %d\n", f.name, braced(key, `le="`+number(bound)+`"`), below)
		}
		fmt.Fprintf(w, "%s_bucket%s %d\n%s_sum%s %s\n%s_count%s %d\n", f.name, braced(key, `le="+Inf"`), s.count,
			f.name, braced(key), number(s.sum), f.name, braced(key), s.count)
	}
}

// gauge writes one value that was looked up just now.
func gauge(w io.Writer, name, help string, value float64) {
	fmt.Fprintf(w, "# HELP %s %s\n# TYPE %s gauge\n%s %s\n", name, help, name, name, number(value))
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// written joins names and values of labels; a value may hold anything.
func written(names, values []string) string {
	var parts []string
	for i, name := range names {
		value := strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`).Replace(values[i])
		parts = append(parts, name+`="`+value+`"`)
	}
	return strings.Join(parts, ",")
}

func braced(parts ...string) string {
	parts = slices.DeleteFunc(parts, func(p string) bool { return p == "" })
	if len(parts) == 0 {
		return ""
	}
	return "{" + strings.Join(parts, ",") + "}"
}
