package calibration

import (
	"fmt"
	"math"
)

// horizon is days ahead, from and to.
type horizon [2]int

var horizons = []horizon{{1, 1}, {2, 2}, {3, 3}, {4, 5}, {6, 9}, {10, 14}}

func (h horizon) String() string {
	if h[0] == h[1] {
		return fmt.Sprintf("%d d", h[0])
	}
	return fmt.Sprintf("%d to %d d", h[0], h[1])
}

func (r *run) reportMeasured(all [][]trial) {
	r.doc.heading("Measured ferments")
	r.doc.say("%d ferments of one laboratory; each forecast from one density reading a day and a thermometer, with what was learnt from the ferments of other conditions. The kinds' own prior was once set from the same ferments, widened by a third, so that it is not wholly new to them. Figures are means over batches of equal weight, with the 95 %% interval of a bootstrap over conditions.", len(r.ferments))
	r.reportCoverage(all)
	r.reportScores(all)
}

// perBatch gathers a figure of each ferment from all its trials; ok is false where it has none.
func (r *run) perBatch(all [][]trial, of func(*trial) (sum, n float64)) (out []item) {
	for i := range r.ferments {
		var sum, n float64
		for k := range all {
			s, m := of(&all[k][i])
			sum, n = sum+s, n+m
		}
		if n > 0 {
			out = append(out, item{r.ferments[i].Condition, sum / n})
		}
	}
	return out
}

// inBand counts later readings inside a band, of a horizon.
func inBand(s *scored, level int, h horizon) (in, n float64) {
	for _, d := range s.Days {
		if d.Ahead < h[0] || d.Ahead > h[1] {
			continue
		}
		n++
		if d.In[level] {
			in++
		}
	}
	return in, n
}

func (r *run) reportCoverage(all [][]trial) {
	var rows [][]string
	held, judged := [len(levels)]int{}, 0
	strays := [len(levels)]string{}
	for _, h := range horizons {
		row := []string{h.String()}
		var n int
		for k, level := range levels {
			items := r.perBatch(all, func(t *trial) (float64, float64) { return inBand(&t.Ours, k, h) })
			v := r.byCondition(items)
			n = len(items)
			row = append(row, v.String())
			if v.holds(level) {
				held[k]++
			} else if n > 0 {
				strays[k] += fmt.Sprintf("%s ahead %s; ", h, v)
			}
		}
		if n > 0 {
			judged++
		}
		peer := r.byCondition(r.perBatch(all, func(t *trial) (float64, float64) { return inBand(&t.Peer, len(levels)-1, h) }))
		rows = append(rows, append(row, peer.String(), fmt.Sprint(n)))
	}
	r.doc.table([]string{"ahead", "50 % band", "80 % band", "90 % band", "logistic, 90 %", "batches"}, rows)
	for k, level := range levels {
		r.doc.bar("measured", fmt.Sprintf("%.0f %% band by horizon", 100*level), "interval holds the nominal at each", held[k] == judged, strays[k], "%d of %d horizons", held[k], judged)
	}
}

// asks of the scores, by name.
var asks = []struct {
	name string
	of   func(*trial, *scored) (float64, bool)
}{
	{"terminal gravity, CRPS, points", func(_ *trial, s *scored) (float64, bool) { return float64(s.Terminal), true }},
	{"time to 90 % attenuation, CRPS, h", func(t *trial, s *scored) (float64, bool) { return float64(s.Attenuated), t.Timed }},
	{"later readings, interval score, points", func(_ *trial, s *scored) (float64, bool) {
		var sum float64
		for _, d := range s.Days {
			sum += d.Score
		}
		return sum / math.Max(float64(len(s.Days)), 1), len(s.Days) > 0
	}},
}

// scoredAsks is how many of the asks are held to a bar; the interval score is beside them, since the curve knows of no chilling.
const scoredAsks = 2

func (r *run) reportScores(all [][]trial) {
	var rows [][]string
	for k, ask := range asks {
		worse, worseAt := "", 0
		for j, now := range r.Budget.Hours {
			row, gain := r.compare(ask.name, fmt.Sprintf("%g h", now), all[j:j+1], ask.of)
			rows = append(rows, row)
			if gain.mid < 0 {
				worseAt++
				worse += fmt.Sprintf("from %g h the gain is %s; ", now, gain)
			}
		}
		row, gain := r.compare(ask.name, "pooled", all, ask.of)
		rows = append(rows, row)
		if k < scoredAsks {
			r.doc.bar("measured", ask.name+", at each hour", "not worse than the logistic", worseAt == 0, worse, "worse from %d of %d hours", worseAt, len(all))
			r.doc.bar("measured", ask.name+", pooled", "gain over the logistic above 0", gain.lo > 0, "the interval of the gain reaches 0", "gain %s", gain)
		}
	}
	r.doc.table([]string{"score", "from", "ours", "logistic", "gain"}, rows)
}

func orElse(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// compare is one row: ours, the peer's, and by how much ours is less.
func (r *run) compare(name, from string, all [][]trial, of func(*trial, *scored) (float64, bool)) ([]string, interval) {
	items := func(get func(*trial) float64) interval {
		return r.byCondition(r.perBatch(all, func(t *trial) (float64, float64) {
			if _, ok := of(t, &t.Ours); !ok {
				return 0, 0
			}
			return get(t), 1
		}))
	}
	ours := func(t *trial) float64 { v, _ := of(t, &t.Ours); return v }
	peer := func(t *trial) float64 { v, _ := of(t, &t.Peer); return v }
	gain := items(func(t *trial) float64 { return peer(t) - ours(t) })
	return []string{name, from, items(ours).String(), items(peer).String(), gain.String()}, gain
}
