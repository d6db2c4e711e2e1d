package rpc

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"plumbline/node"
)

// addressFile is the file's name in the state folder.
const addressFile = "api.json"

// Address says where a node's API is, and what opens it. It lies in the state
// folder, readable by the user alone. After the node has stopped it keeps the
// address without the token, so that the next start takes the same port: a
// page's stored state belongs to the port.
type Address struct {
	Address string `json:"address"` // host:port
	Token   string `json:"token,omitempty"`
	// Data is the data folder, so that a state folder that is used with another
	// one leads nobody to the wrong node.
	Data string `json:"data"`
	// Process is for people who look for what runs.
	Process int `json:"process,omitempty"`
}

// ReadAddress reads the address from a state folder. Without the file, or when
// the node has stopped, the token is empty.
func ReadAddress(state string) (Address, error) {
	var a Address
	data, err := os.ReadFile(filepath.Join(state, addressFile))
	if errors.Is(err, fs.ErrNotExist) {
		return a, nil
	}
	if err != nil {
		return a, fmt.Errorf("reading where the node's API is: %w", err)
	}
	if err := json.Unmarshal(data, &a); err != nil {
		return Address{}, fmt.Errorf("%s is damaged: %w; delete it and start the node again", filepath.Join(state, addressFile), err)
	}
	return a, nil
}

// page is the address that opens the page. What stands behind the # is read by
// the page and sent to nobody.
func (a Address) page(launch string) string {
	return "http://" + a.Address + arrivalPath + "#launch=" + launch
}

func (a Address) write(state string) error {
	if err := writeState(state, addressFile, a); err != nil {
		return fmt.Errorf("saying where the API is: %w", err)
	}
	return nil
}

func writeState(state, name string, content any) error {
	data, err := json.MarshalIndent(content, "", "  ")
	if err != nil {
		return err
	}
	return node.WriteSecret(filepath.Join(state, name), append(data, '\n'))
}
