package gravity

import "math"

// unknowns is the most that are fitted at once.
const unknowns = 9

type vector [unknowns]float64

// equations are the normal equations of a weighted least-squares problem about a
// point: a is the curvature, b the pull, cost the sum of squares there.
type equations struct {
	a    [unknowns]vector
	b    vector
	cost float64
}

// add takes one residual in, with its weight and its derivatives.
func (e *equations) add(n int, row *vector, residual, weight float64) {
	for i := range n {
		w := weight * row[i]
		for j := range i + 1 {
			e.a[i][j] += float64(w * row[j])
		}
		e.b[i] += float64(w * residual)
	}
	e.cost += float64(float64(weight*residual) * residual)
}

// prior takes in what is believed of one unknown that stands at x.
func (e *equations) prior(i int, x, mean, inverse float64) {
	d := mean - x
	e.a[i][i] += inverse
	e.b[i] += float64(inverse * d)
	e.cost += float64(float64(inverse*d) * d)
}

// tightest is the smallest pivot, in shares of its diagonal, that is still a
// direction the data say something of.
const tightest = 1e-13

// factor is the lower triangle of Cholesky, with damping on the diagonal.
type factor struct {
	l [unknowns]vector
	n int
}

func (e *equations) factor(n int, damping float64) (factor, bool) {
	f := factor{n: n}
	for i := range n {
		for j := range i + 1 {
			sum := e.a[i][j]
			if i == j {
				sum += float64(damping * e.a[i][i])
			}
			for k := range j {
				sum -= float64(f.l[i][k] * f.l[j][k])
			}
			if i > j {
				f.l[i][j] = sum / f.l[j][j]
				continue
			}
			if !(sum > tightest*e.a[i][i]) || math.IsInf(sum, 1) {
				return f, false
			}
			f.l[i][i] = math.Sqrt(sum)
		}
	}
	return f, true
}

// solve gives the step that the equations ask for.
func (f *factor) solve(b vector) vector {
	for i := range f.n {
		for k := range i {
			b[i] -= float64(f.l[i][k] * b[k])
		}
		b[i] /= f.l[i][i]
	}
	for i := f.n - 1; i >= 0; i-- {
		for k := i + 1; k < f.n; k++ {
			b[i] -= float64(f.l[k][i] * b[k])
		}
		b[i] /= f.l[i][i]
	}
	return b
}

// logDet is the logarithm of the curvature's determinant.
func (f *factor) logDet() float64 {
	product := 1.0
	for i := range f.n {
		product *= f.l[i][i]
	}
	return 2 * math.Log(product)
}

// variance of a linear combination of the unknowns.
func (f *factor) variance(g vector) float64 {
	sum := 0.0
	for i := range f.n {
		for k := range i {
			g[i] -= float64(f.l[i][k] * g[k])
		}
		g[i] /= f.l[i][i]
		sum += float64(g[i] * g[i])
	}
	return sum
}

// Levenberg and Marquardt's way (1944, 1963): the step of Gauss and Newton, damped
// on the scale of each unknown while it makes things worse.
const (
	firstDamping = 1e-3
	mostDamping  = 1e12
)

// search improves x until a step promises less than enough, in absolute cost and
// as a share of it. It tells whether it got there: a point at which the data say
// nothing of some unknown any more is no answer, however flat it is.
func search(n int, x vector, at func(*vector) equations, rounds int, enough, share float64) (vector, equations, bool) {
	here := at(&x)
	damping := firstDamping
	for range rounds {
		whole, firm := here.factor(n, 0)
		if firm {
			step := whole.solve(here.b)
			promise := dot(n, &step, &here.b)
			if promise <= enough+float64(share*here.cost) {
				return x, here, true
			}
		}
		damped, ok := here.factor(n, damping)
		if !ok {
			return x, here, false
		}
		step := damped.solve(here.b)
		next := x
		for i := range n {
			next[i] += step[i]
		}
		there := at(&next)
		if there.cost <= here.cost { // false for what is not a number
			x, here = next, there
			damping /= 10
			continue
		}
		if damping *= 10; damping > mostDamping {
			return x, here, false
		}
	}
	return x, here, false
}

func dot(n int, a, b *vector) float64 {
	sum := 0.0
	for i := range n {
		sum += float64(a[i] * b[i])
	}
	return sum
}
