package season

// What to do with packs at their end. Screens and paper have it from here.
const (
	recycling = "Packs at their end: insulate the terminals, keep leaking ones apart in a plastic bag, and hand them in where local rules say; never into household waste. " +
		"Swollen, leaking or hot packs are for a qualified person."
	wornPack   = "A worn pack is no household waste: insulate its terminals and hand it in where local rules say, such as a shop that takes cells back."
	unsafePack = "It is not handed in as a worn pack: it is for a qualified person. Insulate its terminals, keep it apart where nothing can burn, a leaking one in a plastic bag, " +
		"and hand it in where local rules say; never into household waste."
)

// disposal is what to do with one pack at its end.
func (c *Care) disposal() string {
	if c.Stopped() || c.Lost != nil {
		return unsafePack
	}
	return wornPack
}
