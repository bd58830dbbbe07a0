package trace

import "strings"

// concept is one idea that header words express.
type concept int

const (
	isTime concept = iota
	isIndex
	isSpeed
	isPosition
	isAngle
	isPressure
	isForce
	isCurrent
	isTorque
	isTemperature
	isCommand
	isActual
	isError
	isMotor
	isRod
	isCapSide
	isRodSide
	isOil
	isOther // something that is none of our channels
	concepts
)

// vocabulary lists the trade words of several languages. Words of four letters
// and more also count as part of a longer word ("Solldrehzahl"), shorter ones
// only alone.
var vocabulary = [concepts]string{
	isTime:        "time timestamp zeit temps tiempo tempo tid tijd aika czas čas время t",
	isIndex:       "sample samples index idx row nr no record point punkt #",
	isSpeed:       "speed velocity rpm drehzahl geschwindigkeit vitesse velocidad velocità velocita varvtal hastighet toerental snelheid obroty prędkość otáčky n v",
	isPosition:    "position pos stroke travel displacement lage hub weg posición posicion posizione läge positie pozycja poloha x s",
	isAngle:       "angle winkel turns revolutions revs rev umdrehungen umdrehung encoder enc geber resolver drehgeber codeur angolo ángulo angulo vinkel hoek kąt úhel theta phi",
	isPressure:    "pressure press prs druck pression presión presion pressione tryck druk ciśnienie cisnienie tlak p",
	isForce:       "force load loadcell kraft fuerza forza kracht siła sila f",
	isCurrent:     "current strom courant corriente corrente ström stroom prąd proud iq amps amp i",
	isTorque:      "torque moment drehmoment couple coppia koppel vridmoment trq m",
	isTemperature: "temp temperature temperatur température temperatura temperatuur temper t",
	isCommand:     "command cmd commanded set setpoint sp ref reference demand dem target tgt desired des soll sollwert consigne consigna riferimento börvärde zadana gewenst w",
	isActual:      "actual act fbk fb feedback measured meas ist istwert real mesure mesurée ärvärde rzeczywista",
	isError:       "error err deviation following schleppfehler abweichung erreur",
	isMotor:       "motor mot shaft drive welle moteur motore encoder enc geber resolver pump pumpe pompe drehgeber",
	isRod:         "rod piston cylinder cyl zylinder kolben ram linear lin lt lvdt transducer actuator act stroke hub weg vérin verin cilindro cylinder tige stange wegaufnehmer wegsensor",
	isCapSide:     "cap bore blind bottom kolbenseite bodenseite kolbenseitig piston fond a",
	isRodSide:     "rod annulus annular stange stangenseite ringseite ring tige vástago vastago stelo b",
	isOil:         "oil öl oel fluid huile aceite olio olja tank reservoir",
	isOther:       "status state mode flag valve ventil voltage spannung volt winding wicklung torquelimit limit power leistung dclink bus event trigger alarm fault",
}

var vocabularyWords = func() (sets [concepts]map[string]bool) {
	for c, list := range vocabulary {
		sets[c] = map[string]bool{}
		for _, w := range strings.Fields(list) {
			sets[c][w] = true
		}
	}
	return sets
}()

// meaning is the set of concepts that a header's words express. A single letter
// counts as a weak sign of its concept only.
type meaning struct {
	has, weak [concepts]bool
	digit     string // "1" or "2" at the end of the name
}

func meaningOf(name string) meaning {
	var m meaning
	list := words(name)
	for _, w := range list {
		for c := range vocabularyWords {
			if vocabularyWords[c][w] {
				if len([]rune(w)) == 1 {
					m.weak[c] = true
				} else {
					m.has[c] = true
				}
				continue
			}
			for known := range vocabularyWords[c] {
				if len(known) >= 4 && len(w) > len(known) && strings.Contains(w, known) {
					m.has[c] = true
				}
			}
		}
		switch w { // two letters run together, as in pA
		case "pa", "pb":
			m.has[isPressure] = true
			m.weak[isCapSide] = m.weak[isCapSide] || w == "pa"
			m.weak[isRodSide] = m.weak[isRodSide] || w == "pb"
		}
	}
	if len(list) > 1 {
		if last := list[len(list)-1]; last == "1" || last == "2" {
			m.digit = last
		}
	}
	return m
}

// any reports whether a concept is expressed, be it by a single letter.
func (m meaning) any(c concept) bool { return m.has[c] || m.weak[c] }
