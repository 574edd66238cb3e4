package main

import (
	"context"
	"fmt"
	"text/tabwriter"

	"spile/internal/store"
)

// UserCmd is about who may come in from other machines. Passwords are asked for at the
// terminal, or are the first line of what comes in; they are never flags.
type UserCmd struct {
	Add      UserAddCmd      `cmd:"" help:"Add a person; asks for the password, or reads one line."`
	List     UserListCmd     `cmd:"" help:"Name all people and what they may do."`
	Password UserPasswordCmd `cmd:"" help:"Give a person another password; older logins end."`
	Remove   UserRemoveCmd   `cmd:"" help:"Take a person out; what was kept stays."`
}

// UserAddCmd adds a person.
type UserAddCmd struct {
	cellarFlag
	Name string `arg:"" help:"How the person is called; it stands beside what is kept."`
	Role string `enum:"owner,brewer,viewer" default:"brewer" help:"owner, brewer or viewer (sees all and keeps nothing)."`
}

// Run adds the person.
func (c *UserAddCmd) Run(ctx *Context) error {
	password, err := askPassword(ctx)
	if err != nil {
		return err
	}
	return c.doors(func(asked context.Context, s *store.Store) error {
		p, err := s.AddPerson(asked, c.Name, store.Role(c.Role), password)
		if err == nil {
			_, err = fmt.Fprintf(ctx.Stdout, "%s may come in as %s.\n", p.Name, p.Role)
		}
		return err
	})
}

// UserListCmd names all.
type UserListCmd struct{ cellarFlag }

// Run prints a line for each person.
func (c *UserListCmd) Run(ctx *Context) error {
	return c.reading(func(asked context.Context, s *store.Store) error {
		all, err := s.People(asked)
		if err != nil {
			return err
		}
		t := tabwriter.NewWriter(ctx.Stdout, 0, 0, 2, ' ', 0)
		for _, p := range all {
			fmt.Fprintf(t, "%s\t%s\tsince %s\n", p.Name, p.Role, p.Made.Local().Format("2 January 2006"))
		}
		return t.Flush()
	})
}

// UserPasswordCmd changes a password.
type UserPasswordCmd struct {
	cellarFlag
	Name string `arg:"" help:"Whose password."`
}

// Run changes it.
func (c *UserPasswordCmd) Run(ctx *Context) error {
	if err := c.mustBe(); err != nil {
		return err
	}
	password, err := askPassword(ctx)
	if err != nil {
		return err
	}
	return c.doors(func(asked context.Context, s *store.Store) error {
		return s.SetPassword(asked, c.Name, password)
	})
}

// UserRemoveCmd takes somebody out.
type UserRemoveCmd struct {
	cellarFlag
	Name string `arg:"" help:"Who."`
}

// Run takes the person out.
func (c *UserRemoveCmd) Run(*Context) error {
	if err := c.mustBe(); err != nil {
		return err
	}
	return c.doors(func(asked context.Context, s *store.Store) error { return s.RemovePerson(asked, c.Name) })
}

// doors opens the cellar to change who may come in, also beside a Spile that serves it.
func (c *cellarFlag) doors(f func(ctx context.Context, s *store.Store) error) error {
	return use(f)(store.OpenDoors(c.Data))
}

// mustBe refuses a folder without a cellar, so that none is made by looking for one.
func (c *cellarFlag) mustBe() error {
	return c.reading(func(context.Context, *store.Store) error { return nil })
}
