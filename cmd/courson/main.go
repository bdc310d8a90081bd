// Command courson is the vineyard map server that knows every single vine: it
// makes and serves the invented demo estate, serves an estate of your own,
// imports, exports and checks its data.
package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"

	"github.com/alecthomas/kong"

	_ "time/tzdata" // time zones on machines that have none
)

// version is set when a release is built.
var version = "dev"

// Exit statuses, as the contract has them.
const (
	exitDone   = 0
	exitFailed = 1
	exitUsage  = 2
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := runWith(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(code)
}

// program holds what every command is handed: nothing is global.
type program struct {
	ctx    context.Context
	stdin  io.Reader
	stdout io.Writer
	stderr io.Writer
	log    *slog.Logger
	now    func() time.Time
}

// commands is the command line.
type commands struct {
	Demo   demoCommand   `cmd:"" help:"Make the invented estate and serve it."`
	Serve  serveCommand  `cmd:"" help:"Serve the map of an estate."`
	Import importCommand `cmd:"" help:"Read blocks, rows, vines and measures from files."`
	Plan   planCommand   `cmd:"" help:"Say what to do: which vines to weigh."`
	Rows   rowsCommand   `cmd:"" help:"Make rows in a block, and number them."`
	Blocks blocksCommand `cmd:"" help:"Split a block, join it with another, or take such a change back."`
	Export exportCommand `cmd:"" help:"Write blocks, rows or vines to a file."`
	User   userCommand   `cmd:"" help:"Say who may sign in."`
	Check  checkCommand  `cmd:"" help:"Check the data; with --rebuild, work the states out anew from the log."`

	LogLevel string           `help:"Least serious messages to log (debug, info, warn, error)." default:"warn" enum:"debug,info,warn,error" env:"COURSON_LOG_LEVEL"`
	Version  kong.VersionFlag `help:"Print the version and stop."`
}

// errUsage marks errors of wrong use, which end with status 2.
var errUsage = errors.New("wrong use")

// run is the whole program as a value: arguments in, exit status out. Nothing is
// typed into it.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	return runWith(ctx, args, strings.NewReader(""), stdout, stderr)
}

// runWith is run with something to read.
func runWith(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	var c commands
	exited, code := false, exitDone
	parser, err := kong.New(&c,
		kong.Name("courson"),
		kong.Description("A vineyard map server that knows every single vine."),
		kong.Writers(stdout, stderr),
		kong.Vars{"version": version},
		kong.UsageOnError(),
		kong.Exit(func(status int) { exited, code = true, status }))
	if err != nil {
		fmt.Fprintln(stderr, "courson:", err)
		return exitFailed
	}
	parsed, err := parser.Parse(args)
	if exited {
		return code
	}
	if err != nil {
		fmt.Fprintf(stderr, "courson: %v\nTry: courson --help\n", err)
		return exitUsage
	}
	p := &program{ctx: ctx, stdin: stdin, stdout: stdout, stderr: stderr, log: newLog(stderr, c.LogLevel), now: time.Now}
	return exitStatus(parsed.Run(p), stderr)
}

func newLog(w io.Writer, level string) *slog.Logger {
	var l slog.Level
	if err := l.UnmarshalText([]byte(level)); err != nil {
		l = slog.LevelWarn
	}
	return slog.New(slog.NewTextHandler(w, &slog.HandlerOptions{Level: l}))
}

// exitStatus tells the person what went wrong, once, and picks the status.
func exitStatus(err error, stderr io.Writer) int {
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errQuiet):
		return exitFailed
	case errors.Is(err, context.Canceled):
		fmt.Fprintln(stderr, "courson: stopped before the end; nothing half-done was kept")
		return exitFailed
	}
	fmt.Fprintln(stderr, "courson:", err)
	if errors.Is(err, errUsage) {
		return exitUsage
	}
	return exitFailed
}

// errQuiet ends with status 1 where the command has said why already.
var errQuiet = errors.New("failed")
