package yeast

// Kind is a kind of yeast as a label says it.
type Kind string

// The kinds Spile knows; strains within a kind scatter, which the priors carry.
const (
	Ale           Kind = "ale"
	CleanAle      Kind = "clean ale"
	Lager         Kind = "lager"
	WarmFarmhouse Kind = "warm farmhouse"
)
