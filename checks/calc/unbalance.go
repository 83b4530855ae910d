package calc

// NegativeShare is u2 in per cent, in a form that is the standard's without its
// difference of two nearly equal numbers, which would spoil a small unbalance:
//
//	q = 6β − 2 = 2·Σ(Ui² − Uj²)²/(ΣU²)²      r = √(1 − q)      u2 = 100·√q/(1 + r)
//
// Rounding may carry q a hair above 1, where the root has no value: it stops there.
func NegativeShare(u []*Expr) *Expr {
	squares, apart := make([]*Expr, 3), make([]*Expr, 3)
	for i, e := range u {
		squares[i] = e.Pow(2)
	}
	for i := range u {
		apart[i] = squares[i].Sub(squares[(i+1)%3]).Pow(2)
	}
	q := Named("q", "", Min(K(1), K(2).Mul(Sum(apart...)).Div(Sum(squares...).Pow(2))))
	root := Named("r", "", Sqrt(K(1).Sub(q)))
	return Sqrt(q).Div(K(1).Add(root)).Times(100)
}
