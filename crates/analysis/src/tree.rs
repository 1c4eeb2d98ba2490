//! Ways along the elimination tree of a factored matrix: what a sparse right-hand side touches, and no more.
//!
//! # Source  The nonzeros of a triangular solution are those on the ways from the right-hand side's to the root of the tree:
//! J. R. Gilbert, Predicting structure in sparse matrix computations, SIAM J. Matrix Anal. Appl. 15 (1994) 62–79 [from memory].

use crate::ldlt::{Factor, Pattern};

const NONE: u32 = u32::MAX;

impl Pattern {
    /// x ← L⁻¹ x where `x` is zero but at some ascending places, each given with all that stand above it.
    pub(crate) fn forward_at(&self, factor: &Factor, places: &[u32], x: &mut [f64]) {
        for &k in places {
            self.forward_one(factor, k as usize, x);
        }
    }

    /// As [`Pattern::backward`] at some places, each given after all that stand above it: from `y` into `x`, which is added to
    /// `sum`; `y` is zero there afterwards.
    pub(crate) fn backward_from<'p>(
        &self,
        factor: &Factor,
        places: impl Iterator<Item = &'p u32>,
        y: &mut [f64],
        x: &mut [f64],
        sum: &mut [f64],
    ) {
        for &k in places {
            sum[k as usize] += self.backward_one(factor, k as usize, y, x);
        }
    }

    /// As [`Pattern::backward`] at some places, each given after all that stand above it: from `y`, which is zero there afterwards, into `x`.
    pub(crate) fn backward_at<'p>(&self, factor: &Factor, places: impl Iterator<Item = &'p u32>, y: &mut [f64], x: &mut [f64]) {
        for &k in places {
            self.backward_one(factor, k as usize, y, x);
        }
    }

    fn backward_one(&self, factor: &Factor, k: usize, y: &mut [f64], x: &mut [f64]) -> f64 {
        let mut at = std::mem::take(&mut y[k]) / factor.diagonal[k];
        let (start, end) = (self.factor_start[k] as usize, self.factor_start[k + 1] as usize);
        for (l, &row) in factor.lower[start..end].iter().zip(&self.factor_row[start..end]) {
            at -= l * x[row as usize];
        }
        x[k] = at;
        at
    }

    /// The parent in the elimination tree.
    pub(crate) fn above(&self, k: u32) -> u32 {
        let start = self.factor_start[k as usize];
        if start < self.factor_start[k as usize + 1] { self.factor_row[start as usize] } else { NONE }
    }

    /// The part of L⁻¹ (e_a − e_b) below the trunk of the elimination tree, appended to `column`, and what of it reaches the
    /// trunk before the trunk is eliminated, appended to `shares`. `x` is all zero before and after.
    pub(crate) fn climb_limbs(
        &self,
        factor: &Factor,
        (a, b): (u32, u32),
        below: impl Fn(u32) -> bool,
        x: &mut [f64],
        column: &mut Vec<(u32, f64)>,
        shares: &mut Vec<(u32, f64)>,
    ) {
        x[a as usize] += 1.0;
        x[b as usize] -= 1.0;
        let (mut p, mut q) = (a, b);
        let mut reached: Vec<u32> = [a, b].into_iter().filter(|&k| !below(k)).collect();
        let on_way = |k: u32| if k != NONE && below(k) { k } else { NONE };
        (p, q) = (on_way(p), on_way(q));
        while p != NONE || q != NONE {
            let k = p.min(q);
            let at = std::mem::take(&mut x[k as usize]);
            column.push((k, at));
            for l in self.factor_start[k as usize] as usize..self.factor_start[k as usize + 1] as usize {
                let row = self.factor_row[l];
                x[row as usize] -= factor.lower[l] * at;
                if !below(row) {
                    reached.push(row);
                }
            }
            let up = on_way(self.above(k));
            if p == k {
                p = up;
            }
            if q == k {
                q = up;
            }
        }
        reached.sort_unstable();
        reached.dedup();
        shares.extend(reached.into_iter().map(|k| (k, std::mem::take(&mut x[k as usize]))).filter(|&(_, share)| share != 0.0));
    }

    /// L⁻¹ (e_a − e_b), or L⁻¹ e_a without a `b`, as ascending places and values appended to `column`.
    ///
    /// Only the ways from the two rows to the root of the elimination tree are touched. `x` is all zero before and after.
    pub(crate) fn climb(&self, factor: &Factor, a: u32, b: Option<u32>, x: &mut [f64], column: &mut Vec<(u32, f64)>) {
        let (mut p, mut q) = (a, b.unwrap_or(NONE));
        x[a as usize] += 1.0;
        if let Some(b) = b {
            x[b as usize] -= 1.0;
        }
        while p != NONE || q != NONE {
            let k = p.min(q);
            let at = std::mem::take(&mut x[k as usize]);
            column.push((k, at));
            for l in self.factor_start[k as usize] as usize..self.factor_start[k as usize + 1] as usize {
                x[self.factor_row[l] as usize] -= factor.lower[l] * at;
            }
            let up = self.above(k);
            if p == k {
                p = up;
            }
            if q == k {
                q = up;
            }
        }
    }
}
