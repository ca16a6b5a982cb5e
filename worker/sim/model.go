package sim

import (
	"math"

	"wearround/worker/wear"
)

// body is one person's parameters of the meal simulation model of the
// glucose-insulin system, IEEE Trans Biomed Eng 2007;54:1740-1749,
// doi:10.1109/TBME.2007.893506. Names and units are the paper's.
type body struct {
	weight float64 // kg
	gb     float64 // basal plasma glucose, mg/dL
	ib     float64 // basal plasma insulin, pmol/L
	egpb   float64 // basal endogenous glucose production, mg/kg/min

	vg, k1, k2                        float64 // glucose kinetics: dL/kg, 1/min, 1/min
	vi, m1, m2, m4, m5, heb           float64 // insulin kinetics: L/kg, 1/min, ..., min·kg/pmol, -
	kmax, kmin, kabs, kgri, f, b, d   float64 // stomach and gut: 1/min, -, -, -
	kp2, kp3, kp4, ki                 float64 // glucose production
	fcns, vmx, km0, p2u               float64 // utilisation: mg/kg/min, ..., mg/kg, 1/min
	secK, secAlpha, secBeta, secGamma float64 // secretion
	ke1, ke2                          float64 // renal excretion: 1/min, mg/kg

	// Ours, for dips: late insulin that a rich meal (pmol/kg per g) or a tablet
	// (pmol/kg) sets off, and its delay (min).
	surge, tablet, lateTau float64

	// Derived so that basal values are a steady state: see settle.
	kp1, vm0, sb, ipob float64
}

// normalBody is the paper's average normal subject. The parameter table is
// given from memory; TestPublishedSteadyState checks it against itself (the
// basal state must balance) and against the paper's basal values.
func normalBody() body {
	b := body{
		weight: 78, gb: 91.76, ib: 25.49, egpb: 1.92,
		vg: 1.88, k1: 0.065, k2: 0.079,
		vi: 0.05, m1: 0.190, m2: 0.484, m4: 0.194, m5: 0.0304, heb: 0.6,
		kmax: 0.0558, kmin: 0.0080, kabs: 0.057, kgri: 0.0558, f: 0.90, b: 0.82, d: 0.010,
		kp2: 0.0021, kp3: 0.009, kp4: 0.0618, ki: 0.0079,
		fcns: 1, vmx: 0.047, km0: 225.59, p2u: 0.0331,
		secK: 2.30, secAlpha: 0.050, secBeta: 0.11, secGamma: 0.5,
		ke1: 0.0005, ke2: 339,
	}
	b.settle()
	return b
}

// type2Body is the paper's average subject with type 2 diabetes, likewise
// from memory.
func type2Body() body {
	b := body{
		weight: 91, gb: 164.18, ib: 54.81, egpb: 2.01,
		vg: 1.49, k1: 0.042, k2: 0.071,
		vi: 0.04, m1: 0.379, m2: 0.673, m4: 0.269, m5: 0.0526, heb: 0.6,
		kmax: 0.0465, kmin: 0.0076, kabs: 0.023, kgri: 0.0465, f: 0.90, b: 0.68, d: 0.09,
		kp2: 0.0007, kp3: 0.005, kp4: 0.0786, ki: 0.0066,
		fcns: 1, vmx: 0.034, km0: 466.21, p2u: 0.0840,
		secK: 0.99, secAlpha: 0.013, secBeta: 0.05, secGamma: 0.5,
		ke1: 0.0007, ke2: 269,
	}
	b.settle()
	return b
}

// partway gives the body a share of the way from normal (0) to type 2 (1),
// each parameter on a logarithmic scale: our way of standing for early
// dysglycaemia, for which the paper gives no table.
func partway(share float64) body {
	n, t := normalBody(), type2Body()
	mix := func(a, b float64) float64 { return a * math.Pow(b/a, share) }
	out := body{
		weight: mix(n.weight, t.weight), gb: mix(n.gb, t.gb), ib: mix(n.ib, t.ib), egpb: mix(n.egpb, t.egpb),
		vg: mix(n.vg, t.vg), k1: mix(n.k1, t.k1), k2: mix(n.k2, t.k2),
		vi: mix(n.vi, t.vi), m1: mix(n.m1, t.m1), m2: mix(n.m2, t.m2), m4: mix(n.m4, t.m4), m5: mix(n.m5, t.m5), heb: mix(n.heb, t.heb),
		kmax: mix(n.kmax, t.kmax), kmin: mix(n.kmin, t.kmin), kabs: mix(n.kabs, t.kabs), kgri: mix(n.kgri, t.kgri),
		f: mix(n.f, t.f), b: mix(n.b, t.b), d: mix(n.d, t.d),
		kp2: mix(n.kp2, t.kp2), kp3: mix(n.kp3, t.kp3), kp4: mix(n.kp4, t.kp4), ki: mix(n.ki, t.ki),
		fcns: mix(n.fcns, t.fcns), vmx: mix(n.vmx, t.vmx), km0: mix(n.km0, t.km0), p2u: mix(n.p2u, t.p2u),
		secK: mix(n.secK, t.secK), secAlpha: mix(n.secAlpha, t.secAlpha), secBeta: mix(n.secBeta, t.secBeta), secGamma: mix(n.secGamma, t.secGamma),
		ke1: mix(n.ke1, t.ke1), ke2: mix(n.ke2, t.ke2),
	}
	out.settle()
	return out
}

// settle derives what the paper derives from the basal state: secretion from
// the basal insulin, production and utilisation so that they balance.
func (b *body) settle() {
	m3 := b.heb * b.m1 / (1 - b.heb)
	ip := b.ib * b.vi
	il := (b.m2 + b.m4) * ip / b.m1
	b.sb = (b.m1+m3)*il - b.m2*ip
	b.ipob = b.sb / b.secGamma
	gp := b.gb * b.vg
	excreted := b.ke1 * max(0, gp-b.ke2)
	gt := (b.fcns - b.egpb + excreted + b.k1*gp) / b.k2
	b.kp1 = b.egpb + b.kp2*gp + b.kp3*b.ib + b.kp4*b.ipob
	b.vm0 = (b.egpb - b.fcns - excreted) * (b.km0 + gt) / gt
}

// Places in a [state].
const (
	plasma    = iota // Gp: glucose in plasma and fast tissue, mg/kg
	tissue           // Gt: glucose in slow tissue, mg/kg
	liverIns         // Il, pmol/kg
	plasmaIns        // Ip, pmol/kg
	delayIns1        // I1, pmol/L
	delayIns2        // Id, pmol/L
	remoteIns        // X, pmol/L
	portalIns        // Ipo, pmol/kg
	provision        // Y, pmol/kg/min
	stomach1         // solid, mg
	stomach2         // ground, mg
	gut              // mg
	counter          // ours: counter-regulation, mg/kg/min of production
	late1            // ours: late insulin waiting, pmol/kg
	late2            // ours: late insulin being secreted, pmol/kg
	stateLen
)

// state is the model's state vector.
type state [stateLen]float64

// basal is the steady state.
func (b *body) basal() state {
	var s state
	s[plasma] = b.gb * b.vg
	s[tissue] = (b.fcns - b.egpb + b.ke1*max(0, s[plasma]-b.ke2) + b.k1*s[plasma]) / b.k2
	s[plasmaIns] = b.ib * b.vi
	s[liverIns] = (b.m2 + b.m4) * s[plasmaIns] / b.m1
	s[delayIns1], s[delayIns2] = b.ib, b.ib
	s[portalIns] = b.ipob
	return s
}

// drive is what acts on the body during one minute.
type drive struct {
	production  float64 // factor on endogenous production: dawn, stress, illness
	uptake      float64 // factor on insulin-independent uptake: exercise
	sensitivity float64 // factor on insulin's effect on uptake: day to day, exercise
}

// rest is a body left alone.
var rest = drive{1, 1, 1}

// Counter-regulation is ours, the paper has none: below 3.7 mmol/L hormones
// gather that make the liver answer, and fade over an hour and a half. Onset
// about 3.6 to 3.9 mmol/L (from memory, J Clin Invest 1987;79:777-781); the
// gain is chosen so that a dip turns within an hour.
const (
	counterBelow = 67.0  // mg/dL
	counterGain  = 0.005 // mg/kg/min of production, per minute and mg/dL
	counterFade  = 90.0  // min
)

// living is a body in motion.
type living struct {
	body
	s     state
	dose  float64 // mg of carbohydrate in the stomach when the last meal was complete: the paper's D
	speed float64 // factor on the gut's rates for the last meal: 1 is the paper's mixed meal
}

// awaken starts a body from its steady state.
func (b body) awaken() *living { return &living{body: b, s: b.basal(), speed: 1} }

// eat puts carbohydrate (g) into the stomach. A speed below 1 stands for fat
// and fibre, above 1 for a drink or white bread. What is rich, more than 50 g
// at speed 1, also sets off the late insulin of a body that has it.
func (p *living) eat(grams, speed float64) {
	p.s[stomach1] += grams * 1000
	p.dose = p.s[stomach1] + p.s[stomach2]
	p.speed = speed
	p.s[late1] += p.surge * max(0, grams*speed-50)
}

// swallow takes a share of a usual tablet of a sulfonylurea.
func (p *living) swallow(share float64) { p.s[late1] += p.tablet * share }

// mmol is plasma glucose in mmol/L.
func (p *living) mmol() float64 { return p.s[plasma] / p.vg / wear.MgdlPerMmol }

// minute moves the state on by one minute.
func (p *living) minute(d drive) { p.advance(d, 1) }

// advance moves the state on by one classical fourth-order Runge-Kutta step of
// the given minutes. The fastest rate in the tables is about 1 a minute, so a
// step of a minute is well inside the method's stable region.
func (p *living) advance(d drive, step float64) {
	var k1, k2, k3, k4, at state
	p.slope(&p.s, &k1, d)
	for i := range at {
		at[i] = p.s[i] + step/2*k1[i]
	}
	p.slope(&at, &k2, d)
	for i := range at {
		at[i] = p.s[i] + step/2*k2[i]
	}
	p.slope(&at, &k3, d)
	for i := range at {
		at[i] = p.s[i] + step*k3[i]
	}
	p.slope(&at, &k4, d)
	for i := range at {
		p.s[i] = max(p.s[i]+step/6*(k1[i]+2*k2[i]+2*k3[i]+k4[i]), floor[i])
	}
}

// floor keeps amounts from turning negative by rounding. Insulin action and
// provision are differences from basal and may be negative.
var floor = func() (f state) {
	f[remoteIns], f[provision] = math.Inf(-1), math.Inf(-1)
	return f
}()

// slope writes the model's right-hand side at s into out, per minute.
func (p *living) slope(s, out *state, d drive) {
	g := s[plasma] / p.vg
	insulin := s[plasmaIns] / p.vi

	// Stomach and gut: emptying slows while the stomach is half full.
	content := s[stomach1] + s[stomach2]
	empty := p.kmax
	if content > 1 { // mg; an empty stomach has no rate worth working out
		up := 5 / (2 * p.dose * (1 - p.b))
		down := 5 / (2 * p.dose * p.d)
		empty = p.kmin + (p.kmax-p.kmin)/2*(math.Tanh(up*(content-p.b*p.dose))-math.Tanh(down*(content-p.d*p.dose))+2)
	}
	empty *= p.speed
	out[stomach1] = -p.kgri * p.speed * s[stomach1]
	out[stomach2] = p.kgri*p.speed*s[stomach1] - empty*s[stomach2]
	out[gut] = empty*s[stomach2] - p.kabs*p.speed*s[gut]
	appearance := p.f * p.kabs * p.speed * s[gut] / p.weight

	// Production, utilisation, excretion.
	production := d.production*p.kp1 - p.kp2*s[plasma] - p.kp3*s[delayIns2] - p.kp4*s[portalIns]
	production = max(0, production) + s[counter]
	out[counter] = counterGain*max(0, counterBelow-g) - s[counter]/counterFade
	vm := max(0, p.vm0*d.uptake+p.vmx*d.sensitivity*s[remoteIns])
	used := vm * s[tissue] / (p.km0 + s[tissue])
	excreted := p.ke1 * max(0, s[plasma]-p.ke2)
	out[plasma] = production + appearance - p.fcns - excreted - p.k1*s[plasma] + p.k2*s[tissue]
	out[tissue] = -used + p.k1*s[plasma] - p.k2*s[tissue]

	// Secretion answers the level with a delay and the rise at once.
	wanted := p.secBeta * (g - p.gb)
	out[provision] = -p.secAlpha * (s[provision] - max(wanted, -p.sb))
	into := max(0, s[provision]+p.sb+p.secK*max(0, out[plasma]/p.vg))
	if p.lateTau > 0 {
		into += s[late2] / p.lateTau
		out[late1] = -s[late1] / p.lateTau
		out[late2] = (s[late1] - s[late2]) / p.lateTau
	} else {
		out[late1], out[late2] = 0, 0
	}
	out[portalIns] = into - p.secGamma*s[portalIns]
	secreted := p.secGamma * s[portalIns]

	// Insulin kinetics: the liver extracts less as secretion rises.
	extraction := min(0.9, max(0, p.heb+p.m5*(p.sb-secreted)))
	m3 := extraction * p.m1 / (1 - extraction)
	out[liverIns] = -(p.m1+m3)*s[liverIns] + p.m2*s[plasmaIns] + secreted
	out[plasmaIns] = -(p.m2+p.m4)*s[plasmaIns] + p.m1*s[liverIns]
	out[delayIns1] = -p.ki * (s[delayIns1] - insulin)
	out[delayIns2] = -p.ki * (s[delayIns2] - s[delayIns1])
	out[remoteIns] = p.p2u * (insulin - p.ib - s[remoteIns])
}
