package sim

// newBody invents the body of a person with a kind of wear. The spread of
// parameters between people is ours; the paper gives averages.
func newBody(c chance, p Person, k Kind, year int) body {
	var b body
	switch k {
	case Drifting:
		b = partway(c.between(0.27, 0.42))
	case VeryHigh:
		b = partway(c.between(1.05, 1.25))
	case MedicineLows:
		b = partway(c.between(0.35, 0.50))
	case FrequentPeaks:
		// Near normal fasting with a weak and late answer to meals.
		b = partway(c.between(0.17, 0.25))
		weak := partway(c.between(0.48, 0.60))
		b.secK, b.secAlpha, b.secBeta = weak.secK, weak.secAlpha, weak.secBeta
	default:
		b = partway(c.between(-0.08, 0.12))
		b.gb *= 0.945
	}
	b.gb *= c.factor(0.035)
	if p.Context.BirthYear > 0 && year-p.Context.BirthYear > 60 {
		b.gb += 3 // mg/dL; mean 104 after 60 against 98-99, J Clin Endocrinol Metab 2019;104:4356-4364
	}
	for _, x := range []*float64{&b.ib, &b.kabs, &b.kgri, &b.kp3, &b.vmx, &b.secK, &b.secAlpha, &b.secBeta} {
		*x *= c.factor(0.12)
	}
	if k == ReactiveDips {
		// A weak first answer lets the meal rise high; the late one overshoots.
		b.secK, b.secAlpha = 0.35*b.secK, 0.65*b.secAlpha
	}
	b.settle()
	switch k {
	case FrequentPeaks:
		b.aimPeak(c.between(10.9, 11.5), func(p *living) { p.eat(75, 1) })
	case ReactiveDips:
		b.lateTau = c.between(45, 60)
		b.aim(&b.surge, c.between(2.7, 3.1), func(p *living) { p.eat(85, 1.2) })
	case MedicineLows:
		b.lateTau = c.between(60, 80)
		b.aim(&b.tablet, c.between(2.9, 3.3), func(p *living) {
			p.eat(40, 0.8)
			p.swallow(1)
		})
	}
	return b
}

// aim sets one of the body's knobs so that the lowest plasma glucose in the six
// hours after the given start is nadir (mmol/L), by bisection.
func (b *body) aim(knob *float64, nadir float64, start func(*living)) {
	lowest := func(setting float64) float64 {
		*knob = setting
		p := b.awaken()
		start(p)
		low := p.mmol()
		for range 6 * 60 {
			p.minute(rest)
			low = min(low, p.mmol())
		}
		return low
	}
	lo, hi := 0.0, 1.0
	for range 12 {
		if lowest(hi) < nadir {
			break
		}
		lo, hi = hi, hi*2
	}
	for range 20 {
		if mid := (lo + hi) / 2; lowest(mid) > nadir {
			lo = mid
		} else {
			hi = mid
		}
	}
	*knob = hi
}

// aimPeak sets how strongly insulin answers a rise so that the highest plasma
// glucose in the three hours after the given start is peak (mmol/L), by
// bisection. What no strength of answer can reach is left at the nearest.
func (b *body) aimPeak(peak float64, start func(*living)) {
	full := b.secK
	highest := func(share float64) float64 {
		b.secK = share * full
		p := b.awaken()
		start(p)
		high := p.mmol()
		for range 3 * 60 {
			p.minute(rest)
			high = max(high, p.mmol())
		}
		return high
	}
	lo, hi := 0.0, 4.0
	for range 20 {
		if mid := (lo + hi) / 2; highest(mid) > peak {
			lo = mid
		} else {
			hi = mid
		}
	}
	b.secK = hi * full
}
