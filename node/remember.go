package node

import (
	"cmp"
	"encoding/json"
	"slices"

	"plumbline/sync/entry"
	"plumbline/sync/mesh"
)

// The port and the addresses of other laptops are kept, so that the next
// start finds them without a beacon.
const (
	portMeta      = "link-port"
	addressesMeta = "addresses"
)

func (n *Node) keptPort() int {
	var port int
	if data, err := n.store.Meta(n.ctx, portMeta); err != nil || json.Unmarshal(data, &port) != nil {
		return 0
	}
	return port
}

func (n *Node) keepPort(port int) {
	if port != n.keptPort() {
		n.keepMeta(portMeta, port)
	}
}

// place is where a laptop was met: which one, and the link key that it last
// proved, by its hash, since a backup holds no key.
type place struct {
	Address string   `json:"address"`
	Device  string   `json:"device,omitempty"`
	Key     [32]byte `json:"key,omitzero"`
}

func (n *Node) places() []place {
	var places []place
	if data, err := n.store.Meta(n.ctx, addressesMeta); err != nil || json.Unmarshal(data, &places) != nil {
		return nil
	}
	return places
}

func (n *Node) remembered() []string {
	var addresses []string
	for _, p := range n.places() {
		addresses = append(addresses, p.Address)
	}
	return addresses
}

// straggler tells whom an address led to and the key that they last proved.
func (n *Node) straggler(address string) (device entry.DeviceID, key [32]byte) {
	for _, p := range n.places() {
		if p.Address != address {
			continue
		}
		if id, err := entry.ParseDeviceID(p.Device); err == nil {
			device = id
		}
		for _, held := range n.id().linkKeys() {
			if keyHash(held) == p.Key {
				key = held
			}
		}
	}
	return device, key
}

// maxRemembered is how many addresses are kept, the newest first.
const maxRemembered = 64

// remember notes where a peer listens. What it proved may be the key that the
// two have in common, which says nothing of the link keys that it knows.
func (n *Node) remember(p mesh.Peer) {
	if !p.Listens {
		return
	}
	met := place{Address: p.Address, Device: p.Device.String()}
	if slices.Contains(n.id().linkKeys(), p.LinkKey) {
		met.Key = keyHash(p.LinkKey)
	}
	n.rememberPlace(met)
}

func (n *Node) rememberAddress(address string) { n.rememberPlace(place{Address: address}) }

func (n *Node) rememberPlace(met place) {
	n.remembering.Lock()
	defer n.remembering.Unlock()
	known := n.places()
	i := slices.IndexFunc(known, func(p place) bool { return p.Address == met.Address })
	if i < 0 {
		known = append([]place{met}, known...)
		n.keepMeta(addressesMeta, known[:min(len(known), maxRemembered)])
		return
	}
	old := known[i]
	met.Device = cmp.Or(met.Device, old.Device)
	if met.Device == old.Device {
		met.Key = cmp.Or(met.Key, old.Key)
	}
	if met != old {
		known[i] = met
		n.keepMeta(addressesMeta, known)
	}
}
