package demo

import (
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"plumbline/node/near"
)

// Names are put together from odd parts, so that they belong to nobody.
var (
	givenNames = strings.Fields(`Orvin Talmo Kestrin Brevin Dorrel Ludro Pirrin Jasko Hollin Merrik Tovar Edrin Wendro Corvan
		Ilmar Sevrin Baxen Ruvan Daxel Osrin Nevrik Yorrin Fenno Garrod Mattis Elgren Vardo Zorin Caspin Halden Tarrel Ubbo
		Wystrin Joruk Kelvan Rasmin Alvery Hesk Imbert Quillon`)
	surnameStems = strings.Fields(`Vel Quor Thrum Osk Brin Tav Yar Zel Kest Ulv Peth Drax Grel Nym Skarn Fald Orb Wex Jund
		Harg Lusk Tarn Morv Elk Plov Crun Dask Virn Ott Sorn`)
	surnameEnds = strings.Fields(`enby ovick undry akker orrow ithe asty ummel erby olden ingrave ander ubbin eskil ottle`)
	townStems   = strings.Fields(`Brack Toll Quarr Durn Pell Ostr Veld Marr Skeld Harn Lorm Trev Crov Yald Wrenn Fosk Gald
		Ulm Zebb Nark`)
	townEnds    = strings.Fields(`mere vane owby holm moor haven astrand fell ergate combe`)
	schoolKinds = []string{" State", " Tech", " College", " Polytechnic"}
)

func surname(n int) string {
	n %= len(surnameStems) * len(surnameEnds)
	return surnameStems[n%len(surnameStems)] + surnameEnds[n/len(surnameStems)]
}

func town(n int) string {
	n %= len(townStems) * len(townEnds)
	return townStems[n%len(townStems)] + townEnds[n/len(townStems)]
}

// namer draws names that can't be taken for each other: the suggestion of
// doubles is to find the ones that are meant, no others.
type namer struct {
	*rand.Rand
	towns   []int
	school  string
	players map[string]bool // of all schools
	here    []string        // of this school, in small letters
	jerseys []string        // of this school
}

func newNamer(r *rand.Rand) *namer {
	return &namer{Rand: r, towns: r.Perm(len(townStems) * len(townEnds)), players: map[string]bool{}}
}

func (n *namer) enterSchool(number int) {
	at, round := number%len(n.towns), number/len(n.towns)
	n.school = town(n.towns[at]) + schoolKinds[(n.towns[at]+round)%len(schoolKinds)]
	n.here, n.jerseys = nil, nil
}

// player draws a name that no other has and that is like none in this school.
func (n *namer) player() string {
	for {
		name := givenNames[n.IntN(len(givenNames))] + " " + surname(n.IntN(len(surnameStems)*len(surnameEnds)))
		lower := inOrder(name)
		if n.players[name] || slices.ContainsFunc(n.here, func(other string) bool {
			return near.Names(lower, []string{other}) != nil || near.Names(other, []string{lower}) != nil
		}) {
			continue
		}
		n.players[name] = true
		n.here = append(n.here, lower)
		return name
	}
}

// inOrder gives a name's words in the order of letters, as names are compared.
func inOrder(name string) string {
	words := strings.Fields(strings.ToLower(name))
	slices.Sort(words)
	return strings.Join(words, " ")
}

// numbers are the jerseys that go with a position. Common practice, no source.
var numbers = map[string][2]int{
	"quarterback": {1, 19}, "running_back": {20, 39}, "receiver": {10, 19}, "tight_end": {80, 89}, "tackle": {60, 79}, "guard": {60, 79},
	"center": {50, 69}, "interior_line": {90, 99}, "edge": {90, 99}, "linebacker": {40, 59}, "cornerback": {20, 39}, "safety": {20, 39},
	"specialist": {1, 19},
}

func (n *namer) jersey(position string) string {
	of := numbers[position]
	for {
		jersey := strconv.Itoa(of[0] + n.IntN(of[1]-of[0]+1))
		if !slices.Contains(n.jerseys, jersey) {
			n.jerseys = append(n.jerseys, jersey)
			return jersey
		}
	}
}

func (n *namer) town() string { return town(n.IntN(len(n.towns))) }

// Twice is one player whom two scouts add, each with an own spelling.
type Twice struct {
	First, Second string
	School        string
	Position      string
	ClassYear     int
	By            [2]PersonIndex
}

// twice draws him at the last school.
func (n *namer) twice() Twice {
	name := n.player()
	return Twice{
		First: name, Second: misspelt(name), School: n.school, Position: "guard", ClassYear: 2027,
		By: [2]PersonIndex{1, 2},
	}
}

// misspelt spells a name as somebody does who has only heard it: one vowel of
// the given name is another.
func misspelt(name string) string {
	at := strings.IndexAny(name[1:], "aeiou") + 1
	heard := map[byte]string{'a': "e", 'e': "i", 'i': "y", 'o': "u", 'u': "oo"}
	return name[:at] + heard[name[at]] + name[at+1:]
}
