package trace

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// tradeWords lists what a native recorder calls the channels, in the order of
// tradeUnits; spellings of one channel stand between bars.
var tradeWords = map[string][]string{
	"English": {
		"Time|Elapsed time|Time since trigger|Timestamp|t",
		"Speed command|Speed setpoint|Motor speed reference|Commanded speed|Target velocity|Velocity demand|Speed demand|Motor speed setpoint|Velocity set-point|Speed ref.",
		"Motor speed|Actual speed|Speed actual value|Speed feedback|Measured speed|Velocity actual value|Shaft speed",
		"Motor position|Encoder position|Motor angle|Encoder|Shaft angle|Motor revolutions|Motor encoder position|Resolver angle",
		"Rod position|Cylinder position|Piston position|Rod travel|Cylinder stroke|LVDT position|Linear transducer|Actuator position|Actual cylinder position|Rod displacement|Ram position",
		"Position command|Position setpoint|Rod position command|Target position|Position reference|Cylinder position setpoint|Position demand|Commanded position",
		"Cap pressure|Cap side pressure|Bore side pressure|Pressure cap end|Blind end pressure|Pressure, cap side|Cap-end pressure",
		"Rod pressure|Rod side pressure|Annulus pressure|Pressure rod end|Rod end pressure|Pressure, rod side|Annular side pressure",
		"Motor current|Current|Current actual value|iq|Torque-producing current",
		"Motor torque|Torque|Actual torque|Torque actual value",
		"Force|Load cell|Load cell force|Measured force|Actual force",
		"Force command|Force setpoint|Force reference|Target force",
		"Oil temperature|Fluid temperature|Reservoir temperature|Tank temp|Oil temp.",
	},
	"German": {
		"Zeit|Messzeit|Zeitstempel|t",
		"Drehzahlsollwert|Solldrehzahl|Drehzahl Soll|n_soll|Sollwert Drehzahl|Drehzahlvorgabe|n Soll",
		"Drehzahlistwert|Istdrehzahl|Drehzahl Ist|n_ist|Motordrehzahl",
		"Motorlage|Motorwinkel|Geberlage|Motorgeber|Motorposition|Geberposition|Motorumdrehungen",
		"Kolbenweg|Zylinderweg|Kolbenposition|Zylinderposition|Kolbenhub|Stangenweg|Wegaufnehmer|Zylinderhub|Stangenposition|Lage Kolbenstange",
		"Lagesollwert|Wegsollwert|Positionssollwert|Position Soll|Sollposition|Solllage|Sollwert Zylinderweg|s_soll",
		"Druck Kolbenseite|Kolbenseitendruck|Druck Bodenseite|Druck kolbenseitig",
		"Druck Stangenseite|Druck Ringseite|Stangenseitendruck|Druck stangenseitig|Ringraumdruck",
		"Motorstrom|Iststrom|Strom|Stromistwert",
		"Motormoment|Drehmoment|Istmoment|Motordrehmoment",
		"Kraft|Kraftmessdose|Istkraft|Kraftistwert",
		"Kraftsollwert|Sollkraft|Kraft Soll",
		"Öltemperatur|Oeltemperatur|Tanktemperatur|Temperatur Öl|Öltemp.",
	},
	"French": {
		"Temps|Temps écoulé|Horodatage",
		"Consigne de vitesse|Consigne vitesse|Vitesse consigne|Consigne vitesse moteur",
		"Vitesse moteur|Vitesse réelle|Vitesse mesurée|Vitesse de rotation moteur",
		"Position moteur|Angle moteur|Position codeur|Codeur moteur",
		"Position vérin|Position tige|Course vérin|Déplacement tige|Course du vérin|Position du piston",
		"Consigne de position|Consigne position|Position consigne|Consigne position vérin",
		"Pression fond|Pression côté fond|Pression chambre fond",
		"Pression côté tige|Pression tige|Pression chambre annulaire",
		"Courant moteur|Courant",
		"Couple moteur|Couple",
		"Effort mesuré|Force|Capteur de force",
		"Consigne d'effort|Consigne de force",
		"Température huile|Température de l'huile|Temp. huile",
	},
	"Italian": {
		"Tempo",
		"Riferimento velocità|Setpoint velocità|Riferimento di velocità motore",
		"Velocità motore|Velocità reale|Velocità misurata",
		"Angolo motore|Posizione motore|Posizione encoder",
		"Posizione stelo|Posizione cilindro|Corsa cilindro|Corsa",
		"Riferimento posizione|Setpoint posizione|Riferimento di posizione",
		"Pressione lato fondello|Pressione fondello",
		"Pressione lato stelo|Pressione stelo",
		"Corrente motore|Corrente",
		"Coppia motore|Coppia",
		"Forza|Cella di carico",
		"Riferimento forza|Setpoint forza",
		"Temperatura olio|Temperatura dell'olio",
	},
	"Spanish": {
		"Tiempo",
		"Consigna de velocidad|Consigna velocidad|Velocidad de referencia",
		"Velocidad motor|Velocidad real|Velocidad del motor",
		"Posición motor|Ángulo motor|Ángulo del motor",
		"Posición vástago|Posición cilindro|Carrera|Posición del vástago|Carrera del cilindro",
		"Consigna de posición|Consigna posición",
		"Presión lado émbolo|Presión lado pistón",
		"Presión lado vástago|Presión vástago",
		"Corriente motor|Corriente del motor",
		"Par motor|Par del motor",
		"Fuerza|Celda de carga",
		"Consigna de fuerza",
		"Temperatura aceite|Temperatura del aceite",
	},
	"Swedish": {
		"Tid",
		"Varvtal börvärde|Börvärde varvtal|Varvtalsbörvärde",
		"Varvtal ärvärde|Motorvarvtal",
		"Motorvinkel|Motorläge|Motorposition",
		"Kolvläge|Cylinderläge|Cylinderposition|Kolvstångens läge",
		"Läge börvärde|Börvärde läge|Position börvärde",
		"Tryck kolvsida|Kolvsidans tryck",
		"Tryck stångsida|Stångsidans tryck",
		"Motorström|Ström",
		"Vridmoment|Motormoment",
		"Kraft|Lastcell",
		"Kraft börvärde|Börvärde kraft",
		"Oljetemperatur|Oljetemp",
	},
	"Dutch": {
		"Tijd",
		"Gewenst toerental|Toerental gewenst|Setpoint toerental",
		"Toerental werkelijk|Motortoerental|Werkelijk toerental",
		"Motorhoek|Motorpositie",
		"Cilinderpositie|Zuigerpositie|Stangpositie|Zuigerslag",
		"Positie gewenst|Setpoint positie|Gewenste positie",
		"Druk bodemzijde",
		"Druk stangzijde",
		"Motorstroom|Stroom",
		"Motorkoppel|Koppel",
		"Kracht|Krachtopnemer",
		"Setpoint kracht|Gewenste kracht",
		"Olietemperatuur",
	},
	"Portuguese": {
		"Tempo",
		"Referência de velocidade|Velocidade de referência",
		"Velocidade do motor|Velocidade real",
		"Posição do motor|Ângulo do motor",
		"Posição da haste|Posição do cilindro|Curso do cilindro",
		"Referência de posição",
		"Pressão lado êmbolo|Pressão lado pistão",
		"Pressão lado haste|Pressão da haste",
		"Corrente do motor",
		"Torque do motor|Binário do motor",
		"Força|Célula de carga",
		"Referência de força",
		"Temperatura do óleo",
	},
	"Polish": {
		"Czas",
		"Prędkość zadana|Zadana prędkość|Obroty zadane",
		"Prędkość silnika|Obroty silnika|Prędkość rzeczywista",
		"Kąt silnika|Pozycja silnika|Położenie silnika",
		"Pozycja tłoczyska|Położenie tłoczyska|Pozycja siłownika",
		"Pozycja zadana|Zadana pozycja|Położenie zadane",
		"Ciśnienie strona tłoka",
		"Ciśnienie strona tłoczyska",
		"Prąd silnika|Prąd",
		"Moment silnika|Moment",
		"Siła",
		"Siła zadana",
		"Temperatura oleju",
	},
	"Czech": {
		"Čas",
		"Žádané otáčky|Otáčky žádané",
		"Otáčky motoru|Skutečné otáčky",
		"Úhel motoru|Poloha motoru",
		"Poloha pístnice|Poloha válce",
		"Žádaná poloha|Poloha žádaná",
		"Tlak na straně pístu",
		"Tlak na straně pístnice",
		"Proud motoru|Proud",
		"Moment motoru",
		"Síla",
		"Žádaná síla",
		"Teplota oleje",
	},
	"Finnish": {
		"Aika",
		"Nopeusohje|Nopeuden ohjearvo",
		"Moottorin nopeus",
		"Moottorin kulma|Moottorin asento",
		"Sylinterin asema|Sylinterin asento|Männän asema",
		"Asemaohje|Asennon ohjearvo",
		"Paine männän puoli",
		"Paine varren puoli",
		"Moottorin virta",
		"Moottorin momentti",
		"Voima",
		"Voimaohje",
		"Öljyn lämpötila",
	},
	"Turkish": {
		"Zaman",
		"Hız referansı|Hız komutu",
		"Motor hızı|Gerçek hız",
		"Motor açısı|Motor konumu",
		"Silindir konumu|Piston konumu",
		"Konum referansı|Konum komutu",
		"Piston tarafı basıncı",
		"Mil tarafı basıncı",
		"Motor akımı",
		"Motor torku",
		"Kuvvet",
		"Kuvvet referansı",
		"Yağ sıcaklığı",
	},
	"Chinese": {
		"时间",
		"速度指令|速度给定|转速指令|转速给定",
		"电机转速|实际速度|速度反馈|实际转速",
		"电机位置|编码器位置|电机角度",
		"活塞杆位置|油缸位置|油缸位移|油缸行程",
		"位置指令|位置给定",
		"无杆腔压力",
		"有杆腔压力",
		"电机电流|电流",
		"电机转矩|电机扭矩",
		"力|力传感器",
		"力指令|力给定",
		"油温|油液温度",
	},
	"Japanese": {
		"時間|時刻",
		"速度指令|回転数指令",
		"モータ回転数|モータ速度|実速度|速度フィードバック",
		"モータ位置|モータ角度|エンコーダ位置",
		"ロッド位置|シリンダ位置|シリンダストローク|ピストン位置",
		"位置指令",
		"ボトム側圧力|キャップ側圧力",
		"ロッド側圧力",
		"モータ電流",
		"モータトルク",
		"荷重|ロードセル",
		"荷重指令",
		"油温|作動油温度",
	},
	"abbreviations": {
		"t|time|T_s",
		"n_set|nset|n_cmd|n_ref|nCmd|vel_cmd|spd_ref|n.set",
		"n_act|nact|n_fbk|nAct|vel_fb|spd_act|n.act",
		"enc|ENC_pos|mot_pos|enc1|Enc.Pos|theta_m|phi_mot|mot_ang",
		"LT|x_act|xAct|s_act|rod_pos|cyl_pos|lin_pos|x_rod|s_ist",
		"x_set|xset|x_cmd|pos_cmd|x_ref|s_set|xCmd|s_soll",
		"pA|p_A|p_cap|pcap|P1|p1|p_bore|PT_A|pt1",
		"pB|p_B|p_rod|p_Rod|P2|p2|p_ann|PT_B|pt2",
		"iq|i_q|Iq_act|i_mot|iq_fb|Imot",
		"trq_act|M_mot|Trq|tq_act",
		"F_act|f_load|LC|F",
		"F_set|f_cmd|F_soll",
		"T_oil|temp_oil|oilT",
	},
}

// tradeUnits lists the channels of tradeWords with a unit of each.
var tradeUnits = []struct {
	channel Channel
	unit    string
}{
	{Time, "ms"}, {SpeedCommand, "rpm"}, {MotorSpeed, "rpm"}, {MotorPosition, "rev"}, {RodPosition, "mm"}, {PositionCommand, "mm"}, {CapPressure, "bar"},
	{RodPressure, "bar"}, {MotorCurrent, "A"}, {MotorTorque, "Nm"}, {Force, "kN"}, {ForceCommand, "kN"}, {OilTemperature, "degC"},
}

// Words of common practice, no source; each log holds all the channels under one spelling each.
func TestTradeWordsOfManyLanguages(t *testing.T) {
	for language, words := range tradeWords {
		most := 0
		for _, list := range words {
			most = max(most, strings.Count(list, "|")+1)
		}
		for variant := range most {
			var headers []string
			want := map[Channel]string{}
			for k, list := range words {
				spellings := strings.Split(list, "|")
				name := spellings[variant%len(spellings)]
				headers = append(headers, name+" ["+tradeUnits[k].unit+"]")
				want[tradeUnits[k].channel] = name
			}
			var b strings.Builder
			b.WriteString(strings.Join(headers, ";") + "\n")
			for i := range 100 { // all columns follow each other
				fmt.Fprint(&b, i)
				for k := range headers[1:] {
					fmt.Fprintf(&b, ";%.3f", 10*float64(k+1)*math.Sin(float64(i)*0.1))
				}
				b.WriteString("\n")
			}
			r := readText(t, b.String(), ReadOptions{})
			got := map[Channel]string{}
			for _, g := range r.Guesses {
				if !g.Asked {
					got[g.Channel] = g.Column
				}
			}
			for c, name := range want {
				if got[c] != name {
					t.Errorf("%s: %s: took %q, want %q; %+v", language, c, got[c], name, r.Unused)
				}
			}
		}
	}
}

// Accents that an export lost do not matter.
func TestWordsWithoutAccents(t *testing.T) {
	for with, without := range map[string]string{
		"Öltemperatur": "Oltemperatur", "Prędkość zadana": "Predkosc zadana", "Žádané otáčky": "Zadane otacky", "Pressão lado êmbolo": "Pressao lado embolo",
		"Hız referansı": "Hiz referansi", "Ciśnienie strona tłoka": "Cisnienie strona tloka", "Läge börvärde": "Lage borvarde",
	} {
		if a, b := meaningOf(with), meaningOf(without); a != b {
			t.Errorf("%q means %v, %q means %v", with, a, without, b)
		}
	}
}

// What may belong to another part of the machine is asked, not taken.
func TestAnotherPartsQuantitiesAreAsked(t *testing.T) {
	for header, c := range map[string]Channel{
		"Ambient temperature [degC]": OilTemperature, "Bearing temperature [degC]": OilTemperature, "Gearbox temperature [degC]": OilTemperature,
		"Table angle [deg]": MotorPosition, "Electrical angle [deg]": MotorPosition, "Flap angle [deg]": MotorPosition,
		"Heater current [A]": MotorCurrent, "Brake current [A]": MotorCurrent, "Spindle torque [Nm]": MotorTorque, "Fan speed [rpm]": MotorSpeed,
		"Supply pressure [bar]": CapPressure, "q [A]": MotorCurrent, "ch2 [kN]": Force, "w [rpm]": SpeedCommand, "w [kN]": ForceCommand, "CH 1 [bar]": CapPressure, "A6 [bar]": CapPressure,
		"pA [bar]": CapPressure, "p2 [bar]": RodPressure, "ch4 [rpm]": MotorSpeed, "ch5 [Nm]": MotorTorque,
	} {
		got, r := guessed(t, "time_ms,position_command_mm,"+header, ReadOptions{})
		asked := false
		for _, g := range r.Guesses {
			asked = asked || g.Channel == c && g.Asked
		}
		if _, taken := got[c]; taken || !asked {
			t.Errorf("%s: taken %v, asked %v; want it asked", header, taken, asked)
		}
	}
}

// A length without a word for the rod is taken only where it follows the encoder, and two pressures
// by the custom of letters or numbers only together.
func TestBareNames(t *testing.T) {
	for headers, want := range map[string]map[Channel]bool{ // taken, else asked
		"time_ms,motor_position_rev,ch4 [mm]":             {RodPosition: true},
		"time_ms,motor_position_rev,table position [mm]":  {RodPosition: false},
		"time_ms,speed_command_rpm,ch4 [mm]":              {RodPosition: false},
		"time_ms,speed_command_rpm,X4 [mm]":               {RodPosition: false},
		"time_ms,pA [bar],pB [bar]":                       {CapPressure: true, RodPressure: true},
		"time_ms,p1 [bar],p2 [bar]":                       {CapPressure: true, RodPressure: true},
		"time_ms,speed_command_rpm,p1 [bar],p3 [bar]":     {CapPressure: false},
		"time_ms,speed_command_rpm,CH 1 [bar],CH 2 [bar]": {CapPressure: false, RodPressure: false},
	} {
		var b strings.Builder
		b.WriteString(headers + "\n")
		for i := range 500 { // all columns follow each other
			fmt.Fprint(&b, i)
			for k := range strings.Count(headers, ",") {
				fmt.Fprintf(&b, ",%d", int(1000*float64(k+1)*math.Sin(float64(i)*0.02)))
			}
			b.WriteString("\n")
		}
		r := readText(t, b.String(), ReadOptions{})
		for c, taken := range want {
			asked := false
			for _, g := range r.Guesses {
				asked = asked || g.Channel == c && g.Asked
			}
			if r.Trace.Has(c) != taken || asked == taken {
				t.Errorf("%s: %s taken %v, asked %v; want taken %v", headers, c, r.Trace.Has(c), asked, taken)
			}
		}
	}
}
