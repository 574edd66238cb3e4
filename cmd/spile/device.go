package main

import (
	"context"
	"encoding/json"
	"fmt"
	"text/tabwriter"

	"spile/batch"
	"spile/internal/store"
)

// DeviceCmd is about what sends readings by itself.
type DeviceCmd struct {
	Add    DeviceAddCmd    `cmd:"" help:"Make a key that adds readings to one vessel, and to nothing else."`
	List   DeviceListCmd   `cmd:"" help:"Name all devices with their vessels."`
	Remove DeviceRemoveCmd `cmd:"" help:"Take a key away; the readings stay."`
}

// DeviceAddCmd makes a key.
type DeviceAddCmd struct {
	cellarFlag
	Name   string `arg:"" help:"How the device is called; it stands beside what it sends."`
	Batch  string `required:"" placeholder:"ID" help:"A batch, by its id or name: the key is bound to the vessel that holds it."`
	Format string `enum:"text,json" default:"text" help:"text or json."`
}

// Run makes the key and prints it, this once.
func (c *DeviceAddCmd) Run(ctx *Context) error {
	var in batch.State
	err := c.reading(func(asked context.Context, s *store.Store) (err error) {
		in, err = named(asked, s, c.Batch)
		return err
	})
	if err != nil {
		return err
	}
	return c.doors(func(asked context.Context, s *store.Store) error {
		d, key, err := s.AddDevice(asked, c.Name, in.Stands())
		if err != nil {
			return err
		}
		if c.Format == "json" {
			return json.NewEncoder(ctx.Stdout).Encode(map[string]string{"name": d.Name, "key": key})
		}
		_, err = fmt.Fprintf(ctx.Stdout, "The key of %s, shown this once:\n\n  %s\n\nIt adds readings to the vessel of %s. Send them to /in/%s, for example:\n\n  {\"quantity\":\"temperature\",\"value\":18.4,\"unit\":\"C\"}\n", d.Name, key, in.Record.Name, key)
		return err
	})
}

// DeviceListCmd names all.
type DeviceListCmd struct{ cellarFlag }

// Run prints a line for each device.
func (c *DeviceListCmd) Run(ctx *Context) error {
	return c.reading(func(asked context.Context, s *store.Store) error {
		all, err := s.Devices(asked)
		if err != nil {
			return err
		}
		t := tabwriter.NewWriter(ctx.Stdout, 0, 0, 2, ' ', 0)
		for _, d := range all {
			fmt.Fprintf(t, "%s\tof vessel %s\tsince %s\n", d.Name, d.Vessel, d.Made.Local().Format("2 January 2006"))
		}
		return t.Flush()
	})
}

// DeviceRemoveCmd takes a key away.
type DeviceRemoveCmd struct {
	cellarFlag
	Name string `arg:"" help:"Which device."`
}

// Run takes it away.
func (c *DeviceRemoveCmd) Run(*Context) error {
	if err := c.mustBe(); err != nil {
		return err
	}
	return c.doors(func(asked context.Context, s *store.Store) error { return s.RemoveDevice(asked, c.Name) })
}
