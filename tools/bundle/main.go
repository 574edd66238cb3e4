// Command bundle makes the scripts of the pages from internal/web/script, and puts them
// where the program takes them from when it is built. It runs in the folder tools; npm ci
// in internal/web/script comes first.
package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/evanw/esbuild/pkg/api"
)

const (
	from = "../internal/web/script"
	to   = "../internal/web/built"
	plot = from + "/node_modules/uplot/"
)

func main() {
	licence, err := os.ReadFile(plot + "LICENSE")
	if err != nil {
		fmt.Fprintf(os.Stderr, "bundle: %v; run npm ci in internal/web/script first\n", err)
		os.Exit(1)
	}
	result := api.Build(api.BuildOptions{
		EntryPointsAdvanced: []api.EntryPoint{
			{InputPath: from + "/spile.ts", OutputPath: "spile"},
			{InputPath: from + "/worker.ts", OutputPath: "worker"},
			{InputPath: plot + "dist/uPlot.min.css", OutputPath: "plot"},
		},
		Outdir:            to,
		Bundle:            true,
		Write:             true,
		MinifyWhitespace:  true,
		MinifyIdentifiers: true,
		MinifySyntax:      true,
		Format:            api.FormatESModule,
		Target:            api.ES2022,
		Banner:            map[string]string{"js": "/* Drawn with uPlot:\n" + string(licence) + "*/"},
		LogLevel:          api.LogLevelWarning,
	})
	if len(result.Errors) > 0 {
		os.Exit(1) // what and where has been said
	}
	for _, f := range result.OutputFiles {
		fmt.Printf("%s: %d bytes\n", filepath.Base(f.Path), len(f.Contents))
	}
}
