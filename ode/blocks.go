package ode

import "math"

// blocks factorises w I - J along the structure of J. Equations that depend on
// each other in a circle form a block; blocks are ordered so that each needs only
// earlier ones. Within a block elimination is dense with partial pivoting; what
// couples blocks is multiplied in entry by entry.
//
// The structure is the union of all entries seen since forget, so an entry that
// happens to vanish at the start joins when it first differs from zero.
// References: [DuffReid1978], [Tarjan1972]
type blocks struct {
	n      int
	seen   []bool // entries of J met so far
	absent []int  // entries never met, to be watched
	order  []int  // order[p] is the equation at place p
	place  []int  // the inverse
	start  []int  // first place of each block, then n
	lu     []float64
	luAt   []int // where each block's factors start in lu
	pivot  []int
	x      []float64

	rowEnd []int     // couplings of place p end here in from, entry, value
	from   []int     // place multiplied
	entry  []int     // index into J
	value  []float64 // J there

	index, low, stack []int // Tarjan's bookkeeping
	onStack           []bool
	counter           int
}

func newBlocks(n int) blocks {
	ints := func(k int) []int { return make([]int, k) }
	b := blocks{n: n, seen: make([]bool, n*n), absent: ints(n * n)[:0],
		order: ints(n)[:0], place: ints(n), start: ints(n + 1)[:0],
		lu: make([]float64, n*n), luAt: ints(n)[:0], pivot: ints(n), x: make([]float64, n),
		rowEnd: ints(n), from: ints(n * n)[:0], entry: ints(n * n)[:0], value: make([]float64, n*n),
		index: ints(n), low: ints(n), stack: ints(n)[:0], onStack: make([]bool, n)}
	return b
}

// forget drops the structure; the next watch learns it afresh.
func (b *blocks) forget() {
	clear(b.seen)
	b.absent = b.absent[:0]
	b.start = b.start[:0]
}

// watch takes in a new J and rebuilds the structure if J has entries not met before.
func (b *blocks) watch(j []float64) {
	if len(b.start) > 0 {
		found := uint64(0)
		for _, at := range b.absent {
			found |= math.Float64bits(j[at]) << 1 // the sign of a zero does not count
		}
		if found == 0 {
			return
		}
	}
	b.absent = b.absent[:0]
	for at, v := range j {
		if v != 0 {
			b.seen[at] = true
		}
		if !b.seen[at] {
			b.absent = append(b.absent, at)
		}
	}
	b.rebuild()
}

// rebuild sorts the equations into blocks and lists the couplings.
func (b *blocks) rebuild() {
	clear(b.index)
	b.counter, b.order, b.start, b.luAt = 0, b.order[:0], b.start[:0], b.luAt[:0]
	for i := range b.n {
		if b.index[i] == 0 {
			b.visit(i)
		}
	}
	for p, i := range b.order {
		b.place[i] = p
	}
	b.start = append(b.start, b.n)
	b.from, b.entry = b.from[:0], b.entry[:0]
	at := 0
	for k := range len(b.start) - 1 {
		first, end := b.start[k], b.start[k+1]
		b.luAt = append(b.luAt, at)
		at += (end - first) * (end - first)
		for p := first; p < end; p++ {
			b.couple(p, first)
		}
	}
}

// couple lists the entries by which place p depends on places before first.
func (b *blocks) couple(p, first int) {
	row := b.order[p] * b.n
	for q := range first {
		if at := row + b.order[q]; b.seen[at] {
			b.from, b.entry = append(b.from, q), append(b.entry, at)
		}
	}
	b.rowEnd[p] = len(b.from)
}

// visit is Tarjan's search for strongly connected components: those an equation
// depends on come out before its own.
func (b *blocks) visit(i int) {
	b.counter++
	b.index[i], b.low[i] = b.counter, b.counter
	b.stack, b.onStack[i] = append(b.stack, i), true
	for k := range b.n {
		if k == i || !b.seen[i*b.n+k] {
			continue
		}
		if b.index[k] == 0 {
			b.visit(k)
			b.low[i] = min(b.low[i], b.low[k])
		} else if b.onStack[k] {
			b.low[i] = min(b.low[i], b.index[k])
		}
	}
	if b.low[i] != b.index[i] {
		return
	}
	b.start = append(b.start, len(b.order))
	for {
		k := b.stack[len(b.stack)-1]
		b.stack, b.onStack[k] = b.stack[:len(b.stack)-1], false
		b.order = append(b.order, k)
		if k == i {
			return
		}
	}
}

// factorize decomposes w I - J. A singular block yields infinities, which the
// step's error turns into a rejection.
func (b *blocks) factorize(j []float64, w float64) {
	for i, at := range b.entry {
		b.value[i] = j[at]
	}
	for k, at := range b.luAt {
		first, end := b.start[k], b.start[k+1]
		m := end - first
		if m == 1 {
			i := b.order[first]
			b.lu[at] = 1 / (w - j[i*b.n+i])
			continue
		}
		a := b.lu[at : at+m*m]
		order := b.order[first:end]
		for p, i := range order {
			row, from := a[p*m:p*m+m], j[i*b.n:i*b.n+b.n]
			for q, c := range order {
				row[q] = -from[c]
			}
			row[p] += w
		}
		eliminate(a, b.pivot[first:end])
	}
}

// eliminate replaces a (row-major) by its factors with row exchanges; the
// diagonal holds reciprocals.
func eliminate(a []float64, pivot []int) {
	m := len(pivot)
	for k := range m {
		top := a[k*m : k*m+m]
		p := k
		most := math.Abs(top[k])
		for i := k + 1; i < m; i++ {
			if v := math.Abs(a[i*m+k]); v > most {
				p, most = i, v
			}
		}
		pivot[k] = p
		if p != k {
			other := a[p*m : p*m+m]
			for c, v := range other {
				other[c], top[c] = top[c], v
			}
		}
		inverse := 1 / top[k]
		top[k] = inverse
		tail := top[k+1:]
		for i := k + 1; i < m; i++ {
			if a[i*m+k] == 0 {
				continue
			}
			l := a[i*m+k] * inverse
			a[i*m+k] = l
			row := a[i*m+k+1 : i*m+m]
			for c, v := range tail {
				row[c] -= l * v
			}
		}
	}
}

// solve finds u with (w I - J) u = f + g.
func (b *blocks) solve(f, g, u []float64) {
	n := b.n
	x, f, g, u, order, rowEnd := b.x[:n], f[:n], g[:n], u[:n], b.order[:n], b.rowEnd[:n]
	value, from := b.value[:len(b.from)], b.from
	p, e := 0, 0
	for k, at := range b.luAt {
		first, end := p, b.start[k+1]
		for ; p < end; p++ {
			i := order[p]
			sum := f[i] + g[i]
			for stop := rowEnd[p]; e < stop; e++ {
				sum += value[e] * x[from[e]]
			}
			x[p] = sum
		}
		if m := end - first; m == 1 {
			x[first] *= b.lu[at]
		} else {
			substitute(b.lu[at:at+m*m], b.pivot[first:end], x[first:end])
		}
	}
	for p, i := range order {
		u[i] = x[p]
	}
}
