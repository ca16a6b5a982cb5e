package wear

import "math"

// quantile is the q-quantile of values that lie in no order, by Hyndman and
// Fan's definition 7 (The American Statistician 1996;50:361): linear between
// the order statistics around (n-1)q. It reorders its argument. None gives NaN.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	h := float64(len(v)-1) * q
	k := int(h)
	low := quickselect(v, k)
	if h == float64(k) {
		return low
	}
	next := v[k+1]
	for _, x := range v[k+2:] {
		next = min(next, x)
	}
	return low + (h-float64(k))*(next-low)
}

// quickselect puts the k-th smallest value at v[k], nothing larger before it
// and nothing smaller after, and returns it.
func quickselect(v []float64, k int) float64 {
	lo, hi := 0, len(v)-1
	for lo < hi {
		// The middle of three keeps sorted and constant traces linear.
		mid := lo + (hi-lo)/2
		pivot := max(min(v[lo], v[mid]), min(max(v[lo], v[mid]), v[hi]))
		i, j := lo, hi
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return v[k]
		}
	}
	return v[k]
}
