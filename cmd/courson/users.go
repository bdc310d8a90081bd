package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"strings"
	"text/tabwriter"

	"golang.org/x/term"

	"courson/server/access"
	"courson/store"
)

// userCommand looks after the people who may sign in.
type userCommand struct {
	Add      userAdd      `cmd:"" help:"Make a user; the password is typed, or read from standard input."`
	List     userList     `cmd:"" help:"List the users."`
	Remove   userRemove   `cmd:"" help:"Remove a user; whatever they are signed in to ends."`
	Password userPassword `cmd:"" help:"Give a user a new password; whatever they are signed in to ends."`
}

type userAdd struct {
	dataFlags
	Name string `arg:"" help:"Name to sign in with."`
	Role string `required:"" enum:"manager,agronomist,crew,viewer" help:"What they may do: ${enum}. The first user is a manager."`
	Crew string `placeholder:"NAME" help:"Whose rows, for role crew."`
}

type userList struct{ dataFlags }

type userRemove struct {
	dataFlags
	Name string `arg:"" help:"Who."`
}

type userPassword struct {
	dataFlags
	Name string `arg:"" help:"Who."`
}

// byProgram stands where else the name of who changed something stands.
const byProgram = "courson user"

func (c *userAdd) Run(p *program) error {
	return c.withGate(p, "add", c.Name, func(g *access.Gate) error {
		if _, err := g.User(p.ctx, c.Name); !errors.Is(err, store.ErrNotFound) {
			return orElse(err, fmt.Errorf("there is a user %q already; change the password with: courson user password", c.Name))
		}
		password, err := p.newPassword()
		if err != nil {
			return err
		}
		u, _, err := g.SaveUser(p.ctx, byProgram, access.UserChange{Name: c.Name, Role: access.Role(c.Role), Crew: c.Crew, Password: password})
		if err == nil {
			fmt.Fprintf(p.stdout, "%s may sign in now, as %s\n", u.Name, u.Role)
		}
		return err
	})
}

func orElse(err, otherwise error) error {
	if err != nil {
		return err
	}
	return otherwise
}

func (c *userList) Run(p *program) (err error) {
	st, err := c.open(p.ctx, p, false, true)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	list, err := access.New(access.Config{Store: st, Now: p.now}).Users(p.ctx)
	if err != nil {
		return err
	}
	if len(list) == 0 {
		fmt.Fprintln(p.stderr, "there are no users")
		return nil
	}
	out := tabwriter.NewWriter(p.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(out, "name\trole\tcrew\tchanged\tby")
	for _, u := range list {
		fmt.Fprintf(out, "%s\t%s\t%s\t%s\t%s\n", u.Name, u.Role, u.Crew, u.Made.Format("2006-01-02 15:04"), u.By)
	}
	return out.Flush()
}

func (c *userRemove) Run(p *program) error {
	return c.withGate(p, "remove", c.Name, func(g *access.Gate) error {
		err := g.RemoveUser(p.ctx, byProgram, c.Name)
		if err == nil {
			fmt.Fprintf(p.stdout, "%s may not sign in any more\n", c.Name)
		}
		return err
	})
}

func (c *userPassword) Run(p *program) error {
	return c.withGate(p, "password", c.Name, func(g *access.Gate) error {
		if _, err := g.User(p.ctx, c.Name); err != nil {
			return err
		}
		password, err := p.newPassword()
		if err != nil {
			return err
		}
		u, _, err := g.SaveUser(p.ctx, byProgram, access.UserChange{Name: c.Name, Password: password})
		if err == nil {
			fmt.Fprintf(p.stdout, "%s has a new password\n", u.Name)
		}
		return err
	})
}

// withGate does one thing to a user, and writes it into the log of changes.
func (d dataFlags) withGate(p *program, what, name string, do func(*access.Gate) error) (err error) {
	st, err := d.open(p.ctx, p, false, false)
	if err != nil {
		return err
	}
	defer closeStore(st, &err)
	g := access.New(access.Config{Store: st, Now: p.now})
	if err := do(g); err != nil {
		return fmt.Errorf("user %s: %w", what, err)
	}
	return g.Note(p.ctx, access.Act{User: byProgram, Role: access.RoleOpen, Route: "courson user " + what, Target: name, Status: http.StatusOK})
}

// mostTyped is how much of standard input may be a password, bytes.
const mostTyped = 1024

// newPassword reads a password: from a terminal twice and unseen, else one line.
func (p *program) newPassword() (string, error) {
	if f, ok := p.stdin.(*os.File); ok && term.IsTerminal(int(f.Fd())) {
		first, err := p.typed(f, "Password: ")
		if err != nil {
			return "", err
		}
		again, err := p.typed(f, "The same again: ")
		if err != nil {
			return "", err
		}
		if first != again {
			return "", errors.New("the two passwords differ; nothing was changed")
		}
		return first, nil
	}
	line, err := bufio.NewReader(io.LimitReader(p.stdin, mostTyped)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return "", fmt.Errorf("read the password from standard input: %w", err)
	}
	if line = strings.TrimRight(line, "\r\n"); line == "" {
		return "", fmt.Errorf("no password on standard input; type it, or pipe it in: %w", errUsage)
	}
	return line, nil
}

// typed reads a line from a terminal that does not show it. When the program is
// told to stop meanwhile, the terminal shows again what is typed.
func (p *program) typed(f *os.File, prompt string) (string, error) {
	fd := int(f.Fd())
	before, err := term.GetState(fd)
	if err != nil {
		return "", fmt.Errorf("read the password from the terminal: %w", err)
	}
	fmt.Fprint(p.stderr, prompt)
	defer fmt.Fprintln(p.stderr)
	type line struct {
		text []byte
		err  error
	}
	done := make(chan line, 1)
	go func() {
		text, err := term.ReadPassword(fd)
		done <- line{text, err}
	}()
	select {
	case <-p.ctx.Done():
		return "", errors.Join(p.ctx.Err(), term.Restore(fd, before))
	case l := <-done:
		if l.err != nil {
			return "", fmt.Errorf("read the password from the terminal: %w", l.err)
		}
		return string(l.text), nil
	}
}
