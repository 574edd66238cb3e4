module spile

go 1.26

require (
	github.com/alecthomas/kong v1.17.0
	github.com/goccy/go-yaml v1.19.2
	gonum.org/v1/gonum v0.17.0
	pgregory.net/rapid v1.3.0
)

require golang.org/x/tools v0.30.0 // indirect
