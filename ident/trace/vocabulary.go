package trace

import (
	"slices"
	"strings"
)

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
	isElsewhere // a part of the machine that need not be ours
	isOther     // something that is none of our channels
	isNeutral   // says nothing of what is measured
	concepts
)

// vocabulary lists the trade words of several languages. Words of four letters
// and more, or two of those that stand for syllables or words, also count as part of a
// longer word ("Solldrehzahl"), shorter ones only alone. Within a longer word that is
// listed a shorter one does not count, so that a compound stands in every list it belongs to.
var vocabulary = [concepts]string{
	isTime:  "time timestamp zeit temps horodatage tiempo tempo tid tijd aika czas čas zaman время 时间 時間 時刻 t",
	isIndex: "sample samples index idx row nr no record point punkt #",
	isSpeed: "speed velocity vel spd rpm drehzahl istdrehzahl geschwindigkeit vitesse velocidad velocidade velocità hastighet varvtal toerental snelheid " +
		"obroty prędkość otáčky rychlost nopeus nopeuden hız hızı 转速 速度 回転数 回転速度 実速度 nset ncmd nref nsoll nact nist nfbk n v",
	isPosition: "position pos stroke travel displacement lage istlage hub kolbenhub zylinderhub weg sollweg istweg wegsoll wegist kolbenweg zylinderweg stangenweg " +
		"posición posizione posição positie läge pozycja położenie poloha course déplacement corsa carrera curso slag slaglängd skok zdvih " +
		"asema asento asennon konum konumu strok 位置 位移 行程 変位 ストローク xset xcmd xref xsoll xact xist sset ssoll sact sist x s",
	isAngle: "angle winkel turns revolutions revs rev umdrehungen umdrehung encoder enc geber resolver drehgeber codeur angolo ángulo ângulo vinkel hoek kąt úhel kulma " +
		"açı açısı 角度 回転角 编码器 エンコーダ theta phi",
	isPressure: "pressure press prs pt druck pression presión pressione pressão tryck druk ciśnienie tlak paine basınç basıncı 压力 圧力 pcap pbore p",
	isForce: "force load loadcell lc kraft istkraft effort fuerza forza força carga carico kracht lastcell siła síla voima kuvvet " +
		"力传感器 荷重 推力 ロードセル 力 力指令 力给定 f",
	isCurrent:     "current strom iststrom courant corriente corrente ström stroom prąd proud virta akım akımı 电流 電流 imot iq amps amp i",
	isTorque:      "torque moment istmoment drehmoment couple coppia par binário koppel vridmoment momentti tork torku 转矩 扭矩 トルク trq tq m",
	isTemperature: "temp temperature temperatur température temperatura temperatuur temper teplota lämpötila sıcaklık sıcaklığı 温度 油温 t",
	isCommand: "command cmd commanded set setpoint sp ref reference demand dem target tgt desired des soll sollweg wegsoll sollwert vorgabe consigne consigna " +
		"referencia référence riferimento referência referans richiesta comando börvärde zadana zadane zadany žádaná žádané gewenst ohje ohjearvo komut komutu " +
		"指令 给定 設定 目标 目標 力指令 力给定 nset ncmd nref nsoll xset xcmd xref xsoll sset ssoll w",
	isActual: "actual act fbk fb feedback measured meas ist istwert istweg wegist istdrehzahl istlage istkraft iststrom istmoment real réel réelle mesure mesuré mesurée misurata misurato " +
		"medida medido ärvärde werkelijk rzeczywista rzeczywiste skutečná skutečné gerçek 实际 反馈 実速度 フィードバック nact nist nfbk xact xist sact sist",
	isError: "error err deviation following schlepp schleppfehler abweichung erreur écart errore desviación uchyb odchylka 偏差",
	isMotor: "motor mot imot shaft drive welle moteur motore moottori silnik encoder enc geber resolver drehgeber codeur pump pumpe pompe pompa bomba " +
		"电机 モータ 编码器 エンコーダ",
	isRod: "rod piston cylinder cyl zylinder kolben kolbenweg kolbenhub zylinderweg zylinderhub stangenweg ram linear lin lt lvdt transducer actuator act stroke hub weg " +
		"vérin cilindro cilinder cylindr tige stange stangen stelo vástago haste kolv stång zuiger stang tłoczysk siłownik pístnic válec válce sylinteri männän silindir " +
		"wegaufnehmer wegsensor 活塞 活塞杆 油缸 ロッド シリンダ ピストン",
	isCapSide: "cap bore pcap pbore blind bottom kolbenseite bodenseite bodenraum bodendruck kolbenraum kolbenseitig piston fond fondello émbolo pistão kolvsida bodemzijde " +
		"tłoka pístu männän 无杆腔 无杆 ボトム キャップ a",
	isRodSide: "rod ann annulus annular annulaire stange stangen stangenseite stangenseitig ringseite ringraum ring tige vástago stelo haste stång stångsida stangzijde tłoczysk pístnic " +
		"varren männänvarren mil 有杆腔 有杆 ロッド b",
	isOil:       "oil öl öltemp oeltemp oel fluid huile aceite olio óleo olja olje olie olej öljy yağ tank reservoir 油温 油液 作動油",
	isElsewhere: "ambient ambiante ambiente umgebung room winding wicklung bearing cooler heatsink table tisch tool werkzeug supply versorgung differential level niveau gap electrical elektrisch fan brake bremse phase",
	isOther:     "status state mode flag valve ventil voltage spannung volt torquelimit limit power leistung dclink bus event trigger alarm fault",
	isNeutral: "value wert valeur valor valore värde waarde wartość hodnota arvo değeri 值 値 channel ch chan kanal canal canale ai ain input eingang analog analogue in out " +
		"signal sig trace data axis achse axe asse eje oś osa of the de du des del della dello da do van av column producing rms filtered gefiltert smoothed total",
}

// lexicon is the vocabulary by word.
var lexicon = func() (l struct {
	means map[string][]concept
	parts []string // words that count within longer ones
}) {
	l.means = map[string][]concept{}
	for c, list := range vocabulary {
		for _, w := range strings.Fields(list) {
			w = fold(w)
			if l.means[w] == nil && isPart(w) {
				l.parts = append(l.parts, w)
			}
			l.means[w] = append(l.means[w], concept(c))
		}
	}
	return l
}()

func isPart(word string) bool {
	runes := []rune(word)
	const firstIdeographic = 0x2e80 // of the scripts whose signs are syllables or words
	return len(runes) >= 4 || len(runes) >= 2 && runes[0] >= firstIdeographic
}

// meaning is the set of concepts that a header's words express. A single letter
// counts as a weak sign of its concept only.
type meaning struct {
	has, weak [concepts]bool
	digit     string // "1" or "2" at the end of the name
	numbered  bool   // a number stands in the name
	unknown   bool   // there is a word that nobody knows
}

func meaningOf(name string) meaning {
	var m meaning
	list := words(name)
	for _, w := range list {
		known := false
		for _, c := range conceptsIn(w) {
			known = true
			if len([]rune(w)) == 1 {
				m.weak[c] = true
			} else {
				m.has[c] = true
			}
		}
		switch w { // two letters run together, as in pA
		case "pa", "pb":
			known = true
			m.has[isPressure] = true
			m.weak[isCapSide] = m.weak[isCapSide] || w == "pa"
			m.weak[isRodSide] = m.weak[isRodSide] || w == "pb"
		}
		number := strings.Trim(w, "0123456789") == ""
		m.numbered = m.numbered || number
		m.unknown = m.unknown || !known && !number && len([]rune(w)) > 1
	}
	if slices.Contains(m.has[isSpeed:isTemperature+1], true) { // a quantity in words: letters are no other
		clear(m.weak[isSpeed : isTemperature+1])
	}
	if len(list) > 1 {
		if last := list[len(list)-1]; last == "1" || last == "2" {
			m.digit = last
		}
	}
	return m
}

// conceptsIn returns what a word means: its own meaning, else that of the longest
// parts in it.
func conceptsIn(word string) []concept {
	if own, ok := lexicon.means[word]; ok {
		return own
	}
	type part struct {
		word     string
		from, to int
	}
	var found []part
	for _, p := range lexicon.parts {
		if at := strings.Index(word, p); at >= 0 {
			found = append(found, part{p, at, at + len(p)})
		}
	}
	var list []concept
	for _, p := range found {
		inner := false
		for _, q := range found {
			inner = inner || q.from <= p.from && p.to <= q.to && len(q.word) > len(p.word)
		}
		if !inner {
			list = append(list, lexicon.means[p.word]...)
		}
	}
	return list
}

// any reports whether a concept is expressed, be it by a single letter.
func (m meaning) any(c concept) bool { return m.has[c] || m.weak[c] }
