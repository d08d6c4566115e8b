package sheet

import (
	"packwright/internal/loadtest"
	"packwright/internal/measure"
)

// quantity is what the cells of a column hold. Those of package measure may
// carry a unit; the others below may not.
const (
	words  measure.Quantity = ""       // no number
	number measure.Quantity = "number" // of a unit that is fixed
)

// field is what is known about one Field.
type field struct {
	name     Field
	quantity measure.Quantity
	unit     string // in a head that Write makes, and of bare numbers
	many     bool   // there may be several columns of it, which are repeats
	heading  string // in a table of tests, without unit and number
	// known are the words that people put over such a column, in English, German,
	// French and Spanish, in small letters without accents, between commas.
	known string
	// place is where the value goes: a *float64, **float64 or *[]float64 of the
	// one or of the other record, whichever is there; nil where it has no place.
	place func(*loadtest.Test, *loadtest.Direct) any
}

// fieldOf looks a field up; nil for Skip and for unknown ones.
func fieldOf(name Field) *field {
	for i := range fields {
		if fields[i].name == name {
			return &fields[i]
		}
	}
	return nil
}

// of makes a place in a load test.
func of(place func(*loadtest.Test) any) func(*loadtest.Test, *loadtest.Direct) any {
	return func(t *loadtest.Test, d *loadtest.Direct) any {
		if t == nil {
			return nil
		}
		return place(t)
	}
}

// read makes a place in a direct reading.
func read(place func(*loadtest.Direct) any) func(*loadtest.Test, *loadtest.Direct) any {
	return func(t *loadtest.Test, d *loadtest.Direct) any {
		if d == nil {
			return nil
		}
		return place(d)
	}
}

// either makes a place that both have.
func either(load func(*loadtest.Test) any, direct func(*loadtest.Direct) any) func(*loadtest.Test, *loadtest.Direct) any {
	return func(t *loadtest.Test, d *loadtest.Direct) any {
		if t != nil {
			return load(t)
		}
		return direct(d)
	}
}

// fields are all of them, in the order of a table of tests. It is never written to.
var fields = [...]field{
	{name: PackCode, heading: "pack", known: ",pack,pack code,pack name,pack id,battery,battery id,battery name,name,id,code,no,nr,number,label,akku,akku nr,batterie,bateria,nombre,nom,numero,"},
	{name: TestDate, heading: "tested at UTC", known: ",date,tested,tested on,tested at,test date,date tested,day,when,timestamp,date time,datum,prufdatum,messdatum,tag,jour,date du test,fecha,fecha de prueba,dia,"},
	{name: TestTime, known: ",time,time of day,clock,uhrzeit,zeit,heure,hora,"},
	{name: MethodUsed, heading: "method", known: ",method,methode,metodo,"},
	{name: OpenVolts, quantity: measure.Voltage, unit: "V", many: true, heading: "open",
		known: ",open,open voltage,open circuit,open circuit voltage,ocv,voc,no load,no load voltage,unloaded,without load,resting,resting voltage,rest voltage,idle,v0,u0,v open,voltage,battery voltage,volts,start voltage,leerlauf,leerlaufspannung,ruhespannung,unbelastet,ohne last,spannung,a vide,tension,tension a vide,sans charge,vacio,en vacio,tension en vacio,voltaje en vacio,sin carga,voltaje,",
		place: either(func(t *loadtest.Test) any { return &t.OpenV }, func(d *loadtest.Direct) any { return &d.OpenV })},
	{name: LoadedVolts, quantity: measure.Voltage, unit: "V", many: true, heading: "loaded",
		known: ",loaded,loaded voltage,under load,voltage under load,on load,with load,load,load voltage,voltage loaded,v1,u1,vl,v load,vload,v loaded,belastet,unter last,spannung unter last,lastspannung,mit last,last,u last,en charge,sous charge,tension en charge,tension sous charge,con carga,bajo carga,en carga,tension con carga,voltaje con carga,voltaje bajo carga,",
		place: of(func(t *loadtest.Test) any { return &t.LoadedV })},
	{name: "current_a", quantity: measure.Current, unit: "A", many: true, heading: "current", known: ",current,amps,load current,strom,laststrom,courant,corriente,",
		place: of(func(t *loadtest.Test) any { return &t.CurrentA })},
	{name: LoadOhms, quantity: measure.Resistance, unit: "Ω", heading: "load",
		known: ",load,test load,load resistance,load resistor,resistor,r load,rload,rl,last,lastwiderstand,widerstand der last,resistance de charge,charge,resistencia de carga,carga,",
		place: of(func(t *loadtest.Test) any { return &t.LoadOhm })},
	{name: "load_tolerance_pct", quantity: measure.Percent, unit: "%", heading: "tolerance of the load", place: of(func(t *loadtest.Test) any { return &t.LoadTolerancePct })},
	{name: "load_uncertainty_ohm", quantity: measure.Resistance, unit: "Ω", heading: "standard uncertainty of the load", place: of(func(t *loadtest.Test) any { return &t.LoadUncertaintyOhm })},
	{name: "load_tempco_ppm_k", quantity: number, unit: "ppm/K", heading: "temperature coefficient of the load", place: of(func(t *loadtest.Test) any { return &t.LoadTempcoPpmK })},
	{name: "load_rise_k", quantity: number, unit: "K", heading: "heating of the load", place: of(func(t *loadtest.Test) any { return &t.LoadRiseK })},
	{name: "lead_ohm", quantity: measure.Resistance, unit: "Ω", heading: "leads of the load", place: of(func(t *loadtest.Test) any { return &t.LeadOhm })},
	{name: "lead_uncertainty_ohm", quantity: measure.Resistance, unit: "Ω", heading: "standard uncertainty of the leads", place: of(func(t *loadtest.Test) any { return &t.LeadUncertaintyOhm })},
	{name: "loaded_1_v", quantity: measure.Voltage, unit: "V", many: true, heading: "on the larger load", place: of(func(t *loadtest.Test) any { return &t.Loaded1V })},
	{name: "load_1_ohm", quantity: measure.Resistance, unit: "Ω", heading: "larger load", place: of(func(t *loadtest.Test) any { return &t.Load1Ohm })},
	{name: "loaded_2_v", quantity: measure.Voltage, unit: "V", many: true, heading: "on the smaller load", place: of(func(t *loadtest.Test) any { return &t.Loaded2V })},
	{name: "load_2_ohm", quantity: measure.Resistance, unit: "Ω", heading: "smaller load", place: of(func(t *loadtest.Test) any { return &t.Load2Ohm })},
	{name: "current_pct", quantity: measure.Percent, unit: "%", heading: "current meter accuracy", place: of(func(t *loadtest.Test) any { return &t.CurrentPct })},
	{name: "current_counts", quantity: number, unit: "counts", heading: "current meter accuracy, last digit", place: of(func(t *loadtest.Test) any { return &t.CurrentCounts })},
	{name: "current_resolution_a", quantity: measure.Current, unit: "A", heading: "current meter, one count", place: of(func(t *loadtest.Test) any { return &t.CurrentResolutionA })},
	{name: Resistance, quantity: measure.Resistance, unit: "Ω", many: true, heading: "resistance as read",
		known: ",resistance,internal resistance,internal,battery resistance,pack resistance,battery ir,ir,r,ri,rint,r int,esr,acir,dcir,impedance,milliohm,milliohms,innenwiderstand,widerstand,resistance interne,impedanz,impedancia,resistencia,resistencia interna,",
		place: read(func(d *loadtest.Direct) any { return &d.ResistanceOhm })},
	{name: "accuracy_pct", quantity: measure.Percent, unit: "%", heading: "instrument accuracy", place: read(func(d *loadtest.Direct) any { return &d.AccuracyPct })},
	{name: "counts", quantity: number, unit: "counts", heading: "instrument accuracy, last digit", place: read(func(d *loadtest.Direct) any { return &d.Counts })},
	{name: "resolution_ohm", quantity: measure.Resistance, unit: "Ω", heading: "instrument, one count", place: read(func(d *loadtest.Direct) any { return &d.ResolutionOhm })},
	{name: "frequency_hz", quantity: measure.Frequency, unit: "Hz", heading: "frequency", place: read(func(d *loadtest.Direct) any { return &d.FrequencyHz })},
	{name: "meter_pct", quantity: measure.Percent, unit: "%", heading: "meter accuracy", place: of(func(t *loadtest.Test) any { return &t.Meter.ReadingPct })},
	{name: "meter_counts", quantity: number, unit: "counts", heading: "meter accuracy, last digit", place: of(func(t *loadtest.Test) any { return &t.Meter.Counts })},
	{name: "meter_resolution_v", quantity: measure.Voltage, unit: "V", heading: "meter, one count", place: of(func(t *loadtest.Test) any { return &t.Meter.ResolutionV })},
	{name: "read_after_s", quantity: measure.Seconds, unit: "s", heading: "read after", known: ",read after,seconds,load time,time on load,",
		place: of(func(t *loadtest.Test) any { return &t.ReadAfterS })},
	{name: Temperature, quantity: measure.Temperature, unit: "°C", heading: "temperature", known: ",temperature,temp,pack temperature,battery temperature,room temperature,t,temperatur,temperatura,",
		place: either(func(t *loadtest.Test) any { return &t.TemperatureC }, func(d *loadtest.Direct) any { return &d.TemperatureC })},
	{name: ChargeState, heading: "charge", known: ",charge,soc,state of charge,charge state,charged,full,charge level,ladung,ladezustand,geladen,etat de charge,estado de carga,cargada,"},
	{name: RestedMin, quantity: measure.Minutes, unit: "min", heading: "rested", known: ",rested,rest,rest time,resting time,rested for,ruhezeit,pause,repos,temps de repos,reposo,tiempo de reposo,",
		place: either(func(t *loadtest.Test) any { return &t.RestedMin }, func(d *loadtest.Direct) any { return &d.RestedMin })},
	{name: WhoTested, heading: "by", known: ",by,tested by,tester,initials,who,person,student,operator,prufer,gepruft von,von,kurzel,par,teste par,testeur,por,probado por,"},
	{name: Remark, many: true, heading: "note", known: ",note,notes,remark,remarks,comment,comments,bemerkung,bemerkungen,notiz,kommentar,remarque,remarques,commentaire,observaciones,nota,notas,comentario,comentarios,"},
}
