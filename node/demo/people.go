package demo

// hire makes the staff. The first few are the same in every world, so that what
// is written about them stays true.
func (w *World) hire() {
	r := w.stream(streamPeople)
	w.People = []Person{
		{Name: "Maro Quellish", Title: "director", Laptop: "maro-desk"},
		{Name: "Tobrin Askerly", Title: "area_scout", Laptop: "tobrin-road", Bias: -0.7},
		{Name: "Elsbet Crannow", Title: "area_scout", Laptop: "elsbet-road", Bias: 0.6},
	}
	for len(w.People) < w.Size.Scouts+1 {
		title := "area_scout"
		if len(w.People)%5 == 0 {
			title = "cross_checker"
		}
		n := len(w.People) - 3
		name := givenNames[n%len(givenNames)] + " " + surname(n*7+n/len(givenNames))
		w.People = append(w.People, Person{Name: name, Title: title, Laptop: "laptop-" + word(n+4), Bias: 0.6 * r.NormFloat64()})
	}
}

// word writes a number as letters.
func word(n int) string {
	if n < 26 {
		return string(rune('a' + n))
	}
	return word(n/26-1) + word(n%26)
}
