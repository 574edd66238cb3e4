// Package calibration measures how honest the beliefs of package estimate are, and
// writes what it found as one page: figures, the bars they are held to, and for each
// miss the evidence.
//
// Six parts, each a file: exact answers (exact.go), batches drawn from the prior
// (drawn.go), measured ferments with whole conditions left out (measured.go), the
// finish call (finish.go), planted faults (faults.go, plant.go), and controls that must fail (controls.go).
//
// All is reproducible from the seed, whatever the number of workers. Each piece of
// work is kept as soon as it is done (store.go), so that a run that was ended goes on where it stood.
package calibration

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"sync"

	"spile/estimate"
	"spile/internal/ferment"
)

// Options of a run.
type Options struct {
	Budget  Budget
	Seed    uint64
	Workers int
	Folder  string // of the measured ferments
	// Engine names the state of what is computed, Date is that of its last change; both
	// are printed, and figures of another engine are not reused.
	Engine, Date string
	Command      string // as typed, printed
	Machine      string // printed
	// Progress, if given, hears of each piece done.
	Progress func(part string, done, of int)
	// TimeUp, if given, says that no further piece may be begun. All parts then grow side by
	// side in rounds, and the page is that of the last whole round: the first batches of each part
	// by seed, however long each took.
	TimeUp func() bool
}

// rounds is how many a run with a limit of time is made in.
const rounds = 10

// ErrTimeUp says that the first round is not done yet; what is done is kept.
var ErrTimeUp = errors.New("time is up before the first round was done; the same command goes on")

// run is one run of all parts.
type run struct {
	Options
	store    *Store
	mu       sync.Mutex // of the store and of what is counted
	ferments []ferment.Ferment
	ranks    [numGroups][]ranked              // of batches drawn from the prior
	priors   []func() (estimate.Prior, error) // by ferment, learnt from other conditions
	curves   []curve                          // by ferment, fitted to all of it
	doc      document
	done, of int // rounds
}

// Write runs every part and writes the page: of all, or of the whole rounds for which there was time.
func Write(w io.Writer, store *Store, o Options) error {
	fs, err := ferment.Load(o.Folder)
	if err != nil {
		return err
	}
	r := &run{Options: o, store: store, ferments: pick(fs, o.Budget.Ferments), of: 1}
	if o.TimeUp != nil {
		r.of = rounds
	}
	page := ""
	for k := 1; k <= r.of; k++ {
		err := r.round(o.Budget, k)
		if errors.Is(err, ErrTimeUp) && page != "" {
			break
		}
		if err != nil {
			return err
		}
		page = r.page()
	}
	_, err = io.WriteString(w, page)
	return err
}

// round runs every part of the first k rounds of a budget.
func (r *run) round(whole Budget, k int) error {
	r.Budget, r.done, r.doc = whole.part(k, r.of), k, document{}
	for _, part := range []func(*run) error{exact, drawn, measured, finish, faults, controls} {
		if err := part(r); err != nil {
			return err
		}
	}
	return nil
}

// pick takes n ferments evenly from all.
func pick(fs []ferment.Ferment, n int) []ferment.Ferment {
	if n >= len(fs) {
		return fs
	}
	out := make([]ferment.Ferment, n)
	for i := range out {
		out[i] = fs[i*len(fs)/n]
	}
	return out
}

// gather gives the results of n pieces of work by index.
func gather[T any](r *run, part string, n int, do func(i int) (T, error)) ([]T, error) {
	index := make([]int, n)
	for i := range index {
		index[i] = i
	}
	return gatherAt(r, part, index, do)
}

// gatherAt gives the results of the pieces of work of a part that are named by index:
// those of an earlier run as they were kept, the others worked out in parallel.
func gatherAt[T any](r *run, part string, index []int, do func(i int) (T, error)) ([]T, error) {
	out, todo, err := kept[T](r, part, index)
	if err != nil {
		return nil, err
	}
	done := len(index) - len(todo)
	finish := func(at int, v T, e error) {
		r.mu.Lock()
		defer r.mu.Unlock()
		if e == nil {
			e = r.store.keep(r.key(part, index[at]), v)
		}
		if out[at] = v; e != nil && err == nil {
			err = fmt.Errorf("%s %d: %w", part, index[at], e)
		}
		done++
		r.tell(part, done, len(index))
	}
	next := func() (at int, ok bool) {
		r.mu.Lock()
		defer r.mu.Unlock()
		if err == nil && len(todo) > 0 && r.TimeUp != nil && r.TimeUp() {
			err = ErrTimeUp
		}
		if err != nil || len(todo) == 0 {
			return 0, false
		}
		at, todo = todo[0], todo[1:]
		return at, true
	}
	r.work(func() bool {
		at, ok := next()
		if ok {
			v, e := do(index[at])
			finish(at, v, e)
		}
		return ok
	})
	return out, err
}

// work has every worker do one piece after another, while there are any.
func (r *run) work(one func() bool) {
	var wg sync.WaitGroup
	for range max(r.Workers, 1) {
		wg.Go(func() {
			for one() {
			}
		})
	}
	wg.Wait()
}

// kept finds what an earlier run has left, and the places in index of what is still to do.
func kept[T any](r *run, part string, index []int) (out []T, todo []int, err error) {
	out = make([]T, len(index))
	for at, i := range index {
		if text, ok := r.store.find(r.key(part, i)); !ok {
			todo = append(todo, at)
		} else if err := json.Unmarshal(text, &out[at]); err != nil {
			return nil, nil, fmt.Errorf("%s %d as kept by an earlier run: %w", part, i, err)
		}
	}
	return out, todo, nil
}

func (r *run) tell(part string, done, of int) {
	if r.Progress != nil {
		r.Progress(part, done, of)
	}
}

func (r *run) key(part string, index int) key {
	return key{part, r.Seed, r.Engine, r.Budget.Members, index}
}

// rng is a source of chance for piece i of the part numbered stream.
func (r *run) rng(stream uint64, i int) *rand.Rand {
	return rand.New(rand.NewPCG(r.Seed, stream<<32+uint64(i)))
}

// Streams of the seed, one for each use, so that a change in one does not shift another.
const (
	streamExact = iota + 1
	streamDrawn
	streamRanks
	streamMeter
	streamHydrometer
	streamFault
	streamHealthy
	streamBootstrap
	streamControl
)

// student draws a reading's error in units of its scatter.
func student(rng *rand.Rand, nu int) float64 {
	var square float64
	for range nu {
		x := rng.NormFloat64()
		square += x * x
	}
	return rng.NormFloat64() / math.Sqrt(square/float64(nu))
}
