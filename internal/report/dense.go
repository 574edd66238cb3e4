package report

import "math"

const (
	// apart is how many readings of one instrument on a strip can still be told apart.
	apart = 150
	// stripColumns of a strip: about two pixels each on a wide page.
	stripColumns = 480
)

// Span is what an instrument read within one column of a strip: too many to tell apart.
type Span struct {
	Hour      float64 // the middle of the column
	Low, High float64
	Count     int
}

// gather keeps readings one by one where they can be told apart, and makes spans of the
// lowest and highest a column of those that cannot, so that no extreme is lost. Those in
// doubt stay as they are, at their true place.
func gather(all []Point, end float64) (points []Point, spans []Span) {
	count := map[string]int{}
	for i := range all {
		count[all[i].by]++
	}
	width := end / stripColumns
	at := map[string]map[int]int{} // where the span of a column stands, for each instrument
	for _, p := range all {
		if p.Doubt || count[p.by] <= apart || !(width > 0) {
			points = append(points, p)
			continue
		}
		column := int(math.Floor(p.Hour / width))
		if at[p.by] == nil {
			at[p.by] = map[int]int{}
		}
		i, begun := at[p.by][column]
		if !begun {
			i = len(spans)
			at[p.by][column] = i
			spans = append(spans, Span{(float64(column) + 0.5) * width, p.Value, p.Value, 0})
		}
		s := &spans[i]
		s.Low, s.High, s.Count = math.Min(s.Low, p.Value), math.Max(s.High, p.Value), s.Count+1
	}
	return points, spans
}

// sensors are the instruments that nobody reads off: what they say is drawn as short ticks.
var sensors = map[string]bool{"floating": true, "transducer": true, "probe": true}
