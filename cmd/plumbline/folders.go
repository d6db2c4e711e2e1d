package main

import (
	"crypto/sha256"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
)

// Where things lie. The data folder holds the records and may be copied and
// backed up; the state folder holds this laptop's keys, which must stay apart
// from it and are never copied. The defaults are the system's own places:
//
//	          data                                             state
//	Linux     $XDG_DATA_HOME/plumbline                         $XDG_STATE_HOME/plumbline
//	          or ~/.local/share/plumbline                      or ~/.local/state/plumbline
//	macOS     ~/Library/Application Support/Plumbline/data     …/Plumbline/state
//	Windows   %LocalAppData%\Plumbline\data                    …\Plumbline\state
//
// With --data alone, the state folder is a folder of the default one that is
// named for the data folder, so that two data folders never share keys.

// folders settles both folders, as absolute paths without links.
func folders(data, state string) (string, string, error) {
	var err error
	named := data
	if data == "" {
		if data, err = defaultData(); err != nil {
			return "", "", err
		}
	}
	if data, err = whole(data); err != nil {
		return "", "", fmt.Errorf("the data folder %s: %w", data, err)
	}
	if state == "" {
		if named != "" {
			named = data
		}
		if state, err = defaultState(named); err != nil {
			return "", "", err
		}
	}
	if state, err = whole(state); err != nil {
		return "", "", fmt.Errorf("the state folder %s: %w", state, err)
	}
	if data == state {
		return "", "", errors.New("--data and --state name one folder: keys don't belong where the records are, name two")
	}
	return data, state, nil
}

// whole is the one path by which a folder is known, whether it exists or not.
func whole(folder string) (string, error) {
	folder, err := filepath.Abs(folder)
	if err != nil {
		return folder, err
	}
	if real, err := filepath.EvalSymlinks(folder); err == nil {
		return real, nil
	}
	return folder, nil
}

func defaultData() (string, error) {
	switch runtime.GOOS {
	case "darwin", "windows":
		return inLocal("data")
	}
	return inHome("XDG_DATA_HOME", ".local", "share")
}

// defaultState gives the state folder that goes with a named data folder, or
// with the default one if the name is empty.
func defaultState(data string) (string, error) {
	var folder string
	var err error
	switch runtime.GOOS {
	case "darwin", "windows":
		folder, err = inLocal("state")
	default:
		folder, err = inHome("XDG_STATE_HOME", ".local", "state")
	}
	if err != nil || data == "" {
		return folder, err
	}
	sum := sha256.Sum256([]byte(data))
	return filepath.Join(folder, fmt.Sprintf("%s-%x", filepath.Base(data), sum[:6])), nil
}

// inLocal is a place that isn't carried to other machines, as roaming ones are.
func inLocal(name string) (string, error) {
	place := os.UserConfigDir
	if runtime.GOOS == "windows" {
		place = os.UserCacheDir
	}
	folder, err := place()
	if err != nil {
		return "", noPlace(err)
	}
	return filepath.Join(folder, "Plumbline", name), nil
}

func inHome(variable string, below ...string) (string, error) {
	if folder := os.Getenv(variable); filepath.IsAbs(folder) {
		return filepath.Join(folder, "plumbline"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", noPlace(err)
	}
	return filepath.Join(home, filepath.Join(below...), "plumbline"), nil
}

func noPlace(err error) error {
	return fmt.Errorf("the system names no place for the user's data (%w): name folders with --data and --state", err)
}

// shown words a default for the help.
func shown(folder string, err error) string {
	if err != nil {
		return "none on this system"
	}
	return folder
}
