package main

import (
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"

	"plumbline/node/near"
)

// wordArguments lets all commands say what is missing, or too much, by the names
// in their usage lines instead of by a count.
func wordArguments(commands []*cobra.Command) {
	for _, command := range commands {
		check := command.Args
		if check == nil {
			continue
		}
		command.Args = func(cmd *cobra.Command, args []string) error {
			if err := check(cmd, args); err != nil {
				return miscounted(cmd, args)
			}
			return nil
		}
	}
}

func miscounted(cmd *cobra.Command, args []string) error {
	names := strings.Fields(cmd.Use)[1:]
	if len(args) > len(names) {
		return fmt.Errorf("%q is one word too many; usage: %s", args[len(names)], cmd.UseLine())
	}
	missing := names[len(args):]
	is := "is"
	if len(missing) > 1 {
		is = "are"
	}
	return fmt.Errorf("%s %s missing; usage: %s", strings.Join(missing, " and "), is, cmd.UseLine())
}

// unreadNumber is what the library says of a flag's value that is no number.
var unreadNumber = regexp.MustCompile(`invalid argument "(.*)" for "(?:-\w, )?(--[a-z-]+)" flag: strconv\.Parse(Uint|Int): `)

// misusedFlag words a flag's value that can't be read.
func misusedFlag(_ *cobra.Command, err error) error {
	found := unreadNumber.FindStringSubmatch(err.Error())
	if found == nil {
		return err
	}
	takes := "a whole number"
	if found[3] == "Uint" {
		takes = "a whole number from 0 on"
	}
	return fmt.Errorf("%s %s: it takes %s", found[2], found[1], takes)
}

var (
	noneOf   = regexp.MustCompile(`at least one of the flags in the group \[([^\]]+)\] is required`)
	together = regexp.MustCompile(`if any flags in the group \[[^\]]+\] are set none of the others can be; \[([^\]]+)\] were all set`)
)

// groupedFlags words what the library says of flags of which one is needed, or
// not more than one.
func groupedFlags(cmd *cobra.Command) error {
	err := cmd.ValidateFlagGroups()
	if err == nil {
		return nil
	}
	flags := func(found []string) []string {
		names := strings.Fields(found[1])
		for i, name := range names {
			names[i] = "--" + name
		}
		return names
	}
	if found := noneOf.FindStringSubmatch(err.Error()); found != nil {
		return fmt.Errorf("%s is missing; usage: %s", near.Or(flags(found)), cmd.UseLine())
	}
	if found := together.FindStringSubmatch(err.Error()); found != nil {
		return fmt.Errorf("%s can't go together; usage: %s", strings.Join(flags(found), " and "), cmd.UseLine())
	}
	return err
}
